//! Cut diagrams over HTTP, read by parsers that are not ours: roxmltree for XML, usvg (the parser of resvg) for SVG, png for
//! pictures.

use resvg::usvg;
use serde_json::Value;

use crate::client::{call, get};
use crate::running::{Running, sample};

#[test]
fn every_diagram_is_read_by_public_parsers_in_every_form() {
    let service = Running::start("");
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    let plan = service.plan(&job, &pile, "{ \"work\": 5 }").json();
    let list = get(service.address, plan["links"]["diagrams"].as_str().unwrap()).is(200).json();
    let diagrams = list["diagrams"].as_array().unwrap();
    assert_eq!(diagrams.len(), plan["plan"]["stock"].as_array().unwrap().len() + 1);
    let fetch = |diagram: &Value, form: &str| get(service.address, diagram[form].as_str().unwrap()).is(200);
    for diagram in diagrams {
        let svg = fetch(diagram, "svg");
        assert_eq!(svg.header("content-type"), Some("image/svg+xml"));
        roxmltree::Document::parse(svg.text()).unwrap();
        usvg::Tree::from_str(svg.text(), &usvg::Options::default()).unwrap();
    }
    for diagram in diagrams.iter().take(2) {
        let png = fetch(diagram, "png");
        let picture = resvg::tiny_skia::Pixmap::decode_png(&png.body).unwrap();
        let inks = picture.pixels().iter().filter(|dot| dot.red() < 100).count();
        assert!(inks > 2_000, "a drawing has lines and letters: {inks} dark dots");
        let pdf = fetch(diagram, "pdf");
        assert!(pdf.body.starts_with(b"%PDF-1.") && pdf.body.windows(6).any(|six| six == b"DejaVu"));
        assert_eq!(fetch(diagram, "pdf").body, pdf.body, "the same bytes each time");
    }
    let book = get(service.address, list["pdf"].as_str().unwrap()).is(200);
    assert!(book.body.starts_with(b"%PDF-1."));
}

#[test]
fn diagrams_stand_in_the_answer_where_they_are_asked_for() {
    let service = Running::start("");
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    let place = service.plan(&job, &pile, "{ \"work\": 5 }").header("content-location").unwrap().to_owned();
    let plan = get(service.address, &format!("{place}?diagrams=inline")).is(200).json();
    for diagram in plan["diagrams"].as_array().unwrap() {
        let alone = get(service.address, diagram["svg"].as_str().unwrap()).is(200);
        assert_eq!(diagram["drawing"], alone.text());
    }
    get(service.address, &format!("{place}?diagrams=all")).problem(400, "malformed");
    for number in ["999", "-1", "x", "..%2f..%2fetc%2fpasswd", "1e3"] {
        let path = format!("{place}/diagrams/{number}.svg");
        get(service.address, &path).problem(404, "not-found");
    }
    let path = format!("{place}/diagrams/0.svg");
    call(service.address, "GET", &path, &[("Accept", "image/png")], b"").problem(406, "not-acceptable");
}

#[test]
fn names_from_the_files_are_text_in_a_drawing_whatever_they_say() {
    let service = Running::start("");
    let hostile = r#"<script>alert(1)</script>&"'"#;
    let name = serde_json::to_string(hostile).unwrap();
    let job = format!(
        r#"{{ "format": "flitchwork.job/1", "units": "in", "title": {name}, "parts": [
            {{ "id": {name}, "species": "ash", "thickness": "3/4", "width": 3, "length": 20 }} ] }}"#
    );
    let pile = format!(
        r#"{{ "format": "flitchwork.pile/1", "units": "in", "boards": [
            {{ "id": {name}, "species": "ash", "nominal": "4/4", "width": 6, "length": 60, "cost": 10 }} ] }}"#
    );
    let plan = service.plan(&job, &pile, "{ \"work\": 5 }").json();
    let list = get(service.address, plan["links"]["diagrams"].as_str().unwrap()).is(200).json();
    for diagram in list["diagrams"].as_array().unwrap() {
        let svg = get(service.address, diagram["svg"].as_str().unwrap()).is(200);
        let policy = svg.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && policy.contains("sandbox"));
        let document = roxmltree::Document::parse(svg.text()).unwrap();
        let known = ["svg", "title", "desc", "rect", "path", "text"];
        let strange = document.descendants().find(|n| n.is_element() && !known.contains(&n.tag_name().name()));
        assert!(strange.is_none(), "{strange:?}");
        let said = document.descendants().filter_map(|node| node.text()).any(|text| text.contains("<script>"));
        assert!(said, "the name itself stands in the drawing");
    }
}
