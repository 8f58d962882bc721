//! The drawings hold what a maker needs, where a maker can read it: tested on the layout, not on pixels.

use super::plans::*;
use flitchwork::draw::*;
use flitchwork::measure::{Length, Units};
use flitchwork::pile::{DefectFace, DefectKind, Pile};
use flitchwork::plan::*;
use proptest::prelude::*;

fn options() -> DrawOptions {
    DrawOptions::defaults(Units::Inches)
}

fn sheet_of(plan: &ShopPlan, pile: &Pile) -> Drawing {
    stock_drawing(plan, pile, &options(), 0).expect("a lawful plan can be drawn")
}

fn texts(drawing: &Drawing) -> Vec<String> {
    drawing.labels().map(|label| label.text.clone()).collect()
}

/// True when some label is this text or starts with it as a word.
fn says(drawing: &Drawing, text: &str) -> bool {
    drawing.labels().any(|label| label.text == text || label.text.starts_with(&format!("{text} ")))
}

fn assert_legible(drawing: &Drawing, name: &str) {
    let labels: Vec<&Label> = drawing.labels().collect();
    for (i, a) in labels.iter().enumerate() {
        for b in &labels[i + 1..] {
            assert!(
                !a.frame.overlaps(&b.frame),
                "{name}: {:?} at {:?} is over {:?} at {:?}",
                a.text,
                a.frame,
                b.text,
                b.frame
            );
        }
    }
}

fn assert_on_the_page(drawing: &Drawing, name: &str) {
    let page = drawing.page();
    for shape in &drawing.shapes {
        match shape {
            Shape::Rect { frame, .. } => assert!(page.contains(frame), "{name}: {frame:?}"),
            Shape::Label(label) => assert!(page.contains(&label.frame), "{name}: {label:?}"),
            Shape::Strokes { lines, .. } => lines.iter().flatten().for_each(|p| {
                let dot = Frame { x: p.x, y: p.y, width: 0.0, height: 0.0 };
                assert!(page.contains(&dot), "{name}: {p:?}");
            }),
        }
    }
}

#[test]
fn no_label_of_any_sheet_stands_on_another_or_off_the_page() {
    for (name, plan, pile) in all() {
        let sheet = sheet_of(&plan, &pile);
        assert_legible(&sheet, name);
        assert_on_the_page(&sheet, name);
    }
    let (plan, pile) = together();
    let overview = overview_drawing(&plan, &pile, &options()).expect("drawn");
    assert_legible(&overview, "overview");
    assert_on_the_page(&overview, "overview");
}

#[test]
fn every_sheet_is_well_formed_svg_with_title_description_and_nothing_from_outside() {
    let (plan, pile) = together();
    let mut files: Vec<String> =
        (0..plan.stock.len()).map(|i| stock_svg(&plan, &pile, &options(), i).expect("drawn")).collect();
    files.push(overview_svg(&plan, &pile, &options()).expect("drawn"));
    for file in files {
        let document = roxmltree::Document::parse(&file).expect("well-formed XML");
        let root = document.root_element();
        assert_eq!(root.tag_name().namespace(), Some("http://www.w3.org/2000/svg"));
        assert_eq!(root.attribute("role"), Some("img"));
        let ids: Vec<&str> = root.attribute("aria-labelledby").expect("labelled").split(' ').collect();
        for (id, tag) in ids.into_iter().zip(["title", "desc"]) {
            let node = root.children().find(|n| n.attribute("id") == Some(id)).expect("the label is there");
            assert_eq!(node.tag_name().name(), tag);
            assert!(!node.text().unwrap_or_default().trim().is_empty());
        }
        for node in root.descendants().filter(|n| n.is_element()) {
            assert!(["svg", "title", "desc", "rect", "path", "text"].contains(&node.tag_name().name()));
            assert!(node.attributes().all(|a| !a.name().starts_with("on") && a.name() != "href"));
            assert!(node.attributes().all(|a| !a.value().contains("url(")));
        }
    }
}

#[test]
fn the_svg_shows_the_same_words_as_the_layout_inside_its_view_box() {
    for (name, plan, pile) in all() {
        let file = stock_svg(&plan, &pile, &options(), 0).expect("drawn");
        let document = roxmltree::Document::parse(&file).expect("well-formed XML");
        let root = document.root_element();
        let view: Vec<f64> =
            root.attribute("viewBox").expect("a view box").split(' ').map(|n| n.parse().expect("a number")).collect();
        let nodes: Vec<_> = root.children().filter(|n| n.tag_name().name() == "text").collect();
        let words: Vec<String> = nodes.iter().map(|n| n.text().unwrap_or_default().to_string()).collect();
        assert_eq!(words, texts(&sheet_of(&plan, &pile)), "{name}");
        for node in nodes {
            let place = |axis| node.attribute(axis).expect("placed").parse::<f64>().expect("a number");
            assert!((0.0..=view[2]).contains(&place("x")) && (0.0..=view[3]).contains(&place("y")), "{name}");
        }
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let (plan, pile) = together();
    for i in 0..plan.stock.len() {
        assert_eq!(stock_svg(&plan, &pile, &options(), i).unwrap(), stock_svg(&plan, &pile, &options(), i).unwrap());
    }
    assert_eq!(overview_svg(&plan, &pile, &options()).unwrap(), overview_svg(&plan, &pile, &options()).unwrap());
}

#[test]
fn every_cut_number_is_on_the_picture_and_in_a_table() {
    for (name, plan, pile) in all() {
        let sheet = sheet_of(&plan, &pile);
        for cut in &plan.cuts {
            let number = cut.number.to_string();
            let tags = sheet.labels().filter(|label| label.boxed && label.text == number).count();
            let rows = sheet.labels().filter(|label| !label.boxed && label.text == number).count();
            assert_eq!(tags, 1, "{name}: cut {number}");
            assert!(rows >= 1, "{name}: cut {number}");
        }
    }
}

#[test]
fn every_piece_is_named_with_its_blank_and_finished_size() {
    let (plan, pile) = board_with_defects();
    let sheet = sheet_of(&plan, &pile);
    for text in ["rail #1", "stile #1", "stile #2", "edging #1", "drawer front #1", "cleat #1\u{2013}2"] {
        assert!(texts(&sheet).contains(&text.to_string()), "{text} in the table");
    }
    for text in ["A rail #1", "C stile #2", "E drawer front #1", "F1", "F2"] {
        assert!(says(&sheet, text), "{text} on the picture");
    }
    for text in ["24 \u{d7} 3 1/8", "23 1/2 \u{d7} 3", "15 \u{d7} 3 3/4", "14 1/2 \u{d7} 3 5/8"] {
        assert!(texts(&sheet).contains(&text.to_string()), "{text}");
    }
}

#[test]
fn each_of_many_small_pieces_has_its_mark_on_the_picture() {
    let (plan, pile) = board_of_small_pieces();
    let sheet = sheet_of(&plan, &pile);
    for copy in 1..=98 {
        assert!(says(&sheet, &format!("A{copy}")), "peg {copy}");
    }
    assert!(says(&sheet, "peg #1\u{2013}98"));
    assert!(sheet.description.contains("Piece A98: peg #98, blank 2 3/4 \u{d7} 11/16 in"));
}

#[test]
fn kept_offcuts_are_marked_with_their_credit_or_without() {
    let (plan, pile) = board_with_defects();
    let sheet = sheet_of(&plan, &pile);
    assert!(says(&sheet, "K1 keep 25 7/8 \u{d7} 7 1/4") && says(&sheet, "credited 9.40"));
    let (plan, pile) = ash_stick();
    let sheet = sheet_of(&plan, &pile);
    assert!(says(&sheet, "K1 keep") && texts(&sheet).join(" ").contains("worth keeping, no credit"));
}

#[test]
fn defects_are_told_apart_by_pattern_and_listed_with_place_face_and_soundness() {
    let (plan, pile) = board_with_defects();
    let sheet = sheet_of(&plan, &pile);
    for text in ["d1", "d2", "d3", "d4", "d5", "d6"] {
        assert_eq!(texts(&sheet).iter().filter(|t| *t == text).count(), 2, "{text} on the picture and in the table");
    }
    for text in ["47 1/2\u{2013}50", "2 1/4\u{2013}4", "knot", "check", "wane", "sap", "stain", "hole"] {
        assert!(says(&sheet, text), "{text}");
    }
    let words = texts(&sheet).join(" ");
    for text in ["knot, through, not sound", "sap, top, sound", "stain, underside, sound"] {
        assert!(words.contains(text), "{text}");
    }
}

#[test]
fn what_a_maker_must_know_at_the_saw_stands_on_the_sheet() {
    let (plan, pile) = board_with_defects();
    let sheet = sheet_of(&plan, &pile);
    for text in ["C-04", "top face up", "grain", "left", "end", "reference edge, towards you", "7 1/4", "98 1/2"] {
        assert!(says(&sheet, text), "{text}");
    }
    let words = texts(&sheet).join(" ");
    for text in
        ["cherry 5/4", "1 9/32 thick", "costs 61.25", "Makes 1 rail, 2 stile", "its manual", "lengths in inches"]
    {
        assert!(words.contains(text), "{text}");
    }
}

/// The stock on the page: the first area of kraft, on which everything else is laid.
fn stock_frame(sheet: &Drawing) -> Frame {
    let kraft = |shape: &Shape| match shape {
        Shape::Rect { frame, fill: Some(Fill::Kraft), .. } => Some(*frame),
        _ => None,
    };
    sheet.shapes.iter().find_map(kraft).expect("the stock is drawn")
}

#[test]
fn stock_and_blanks_are_drawn_in_true_proportion_with_the_reference_edge_below() {
    for (name, plan, pile) in all() {
        let sheet = sheet_of(&plan, &pile);
        let stock = stock_frame(&sheet);
        let tree = &plan.stock[0].tree;
        let scale = stock.width / tree.length.ticks() as f64;
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
        assert!(near(stock.height, tree.width.ticks() as f64 * scale), "{name}");
        let mut blanks = Vec::new();
        collect(tree, &mut blanks);
        for blank in blanks {
            let wanted = |frame: &Frame| {
                near(frame.x - stock.x, blank.x.ticks() as f64 * scale)
                    && near(stock.bottom() - frame.bottom(), blank.y.ticks() as f64 * scale)
                    && near(frame.width, blank.length.ticks() as f64 * scale)
                    && near(frame.height, blank.width.ticks() as f64 * scale)
            };
            let drawn = sheet
                .shapes
                .iter()
                .any(|shape| matches!(shape, Shape::Rect { frame, fill: Some(Fill::Paper), .. } if wanted(frame)));
            assert!(drawn, "{name}: {:?}", blank.part);
        }
    }
}

fn collect<'a>(node: &'a Node<Length>, blanks: &mut Vec<&'a Node<Length>>) {
    if node.role == Some(Role::Blank) {
        blanks.push(node);
    }
    node.children.iter().for_each(|child| collect(child, blanks));
}

#[test]
fn rough_crosscuts_are_heavier_than_rips_and_rips_than_final_crosscuts() {
    let (plan, pile) = board_with_defects();
    let sheet = sheet_of(&plan, &pile);
    let stock = stock_frame(&sheet);
    let scale = stock.width / plan.stock[0].tree.length.ticks() as f64;
    let weight = |station: Station| {
        let cut = plan.cuts.iter().find(|cut| cut.station == station).expect("the plan has one");
        let middle = (cut.at + cut.to).ticks() as f64 / 2.0 * scale;
        let on_line = |line: &Vec<Point>| match cut.cut {
            CutKind::Cross => line.len() == 2 && line.iter().all(|p| (p.x - stock.x - middle).abs() < 1e-6),
            CutKind::Rip => line.len() == 2 && line.iter().all(|p| (stock.bottom() - p.y - middle).abs() < 1e-6),
        };
        let pens = sheet.shapes.iter().filter_map(|shape| match shape {
            Shape::Strokes { lines, pen } if lines.len() == 1 && on_line(&lines[0]) => Some(pen.width),
            _ => None,
        });
        pens.fold(0.0, f64::max)
    };
    assert!(weight(Station::RoughCrosscut) > weight(Station::Rip));
    assert!(weight(Station::Rip) > weight(Station::FinalCrosscut));
    assert!(weight(Station::FinalCrosscut) > 0.0);
}

#[test]
fn a_rough_crosscut_is_marked_to_a_sixteenth_on_the_side_of_the_waste() {
    let (length, width) = (960, 80);
    let sections = vec![section(16, 700, width, vec![strip(16, 2, 700, 40, vec![blank(64, 2, 600, 40, "rail", 1)])])];
    let mut plan = plan("Odd", vec![used("B", 1, StockKind::Board, length, width, CutKind::Cross, sections)]);
    let odd = Length::from_inch_fraction(1, 32);
    let section = &mut plan.stock[0].tree.children[0];
    section.x += odd;
    for cut in plan.cuts.iter_mut().filter(|cut| cut.station == Station::RoughCrosscut) {
        cut.at += odd;
        cut.to += odd;
    }
    let sheet = sheet_of(&plan, &pile(vec![board("B", "oak", length, width, vec![])]));
    assert!(says(&sheet, "7/8"), "29/32 with the section on its right goes down");
    assert!(says(&sheet, "44 13/16"), "44 25/32 with the section on its left goes up");
}

#[test]
fn two_sections_a_kerf_apart_leave_no_room_to_round_and_the_mark_stays_exact() {
    let (length, width) = (960, 80);
    let rail = |x, copy| vec![strip(x, 2, 400, 40, vec![blank(x + 48, 2, 300, 40, "rail", copy)])];
    let sections = vec![section(16, 400, width, rail(16, 1)), section(418, 400, width, rail(418, 2))];
    let mut plan = plan("Odd", vec![used("B", 1, StockKind::Board, length, width, CutKind::Cross, sections)]);
    let odd = Length::from_inch_fraction(1, 32);
    for section in &mut plan.stock[0].tree.children {
        section.x += odd;
    }
    for cut in plan.cuts.iter_mut().filter(|cut| cut.station == Station::RoughCrosscut) {
        cut.at += odd;
        cut.to += odd;
    }
    let sheet = sheet_of(&plan, &pile(vec![board("B", "oak", length, width, vec![])]));
    assert!(says(&sheet, "26 1/32"));
}

#[test]
fn a_stick_has_a_left_end_but_no_reference_edge() {
    let (plan, pile) = ash_stick();
    let sheet = sheet_of(&plan, &pile);
    assert!(says(&sheet, "left") && says(&sheet, "end"));
    assert!(!texts(&sheet).join(" ").contains("reference edge") && !sheet.description.contains("reference edge"));
}

#[test]
fn a_millimetre_shop_reads_millimetres() {
    let (plan, pile) = ash_stick();
    let sheet = stock_drawing(&plan, &pile, &DrawOptions::defaults(Units::Millimetres), 0).expect("drawn");
    assert!(says(&sheet, "698.5 \u{d7} ~51"), "27 1/2 in by 2 in");
    assert!(texts(&sheet).join(" ").contains("All lengths in millimetres."));
}

#[test]
fn names_full_of_markup_are_printed_as_they_are_and_control_characters_replaced() {
    let (plan, pile) = hostile_names();
    let file = stock_svg(&plan, &pile, &options(), 0).expect("drawn");
    assert!(!file.contains("<script") && !file.contains("<b>"));
    let sheet = sheet_of(&plan, &pile);
    assert!(texts(&sheet).contains(&"<b>&\"C'\u{fffd}\u{fffd}".to_string()));
    assert!(says(&sheet, "A leg <&> #1 layer 2") && says(&sheet, "C side #1 + side #2"));
    let words = texts(&sheet).join(" ");
    for text in ["planed to 1", "resaw, from the", "bottom face", "#1 stave 3", "ch<erry 5/4", "F&S"] {
        assert!(words.contains(text), "{text}");
    }
}

#[test]
fn the_overview_names_all_stock_and_what_is_short_with_the_bound_rounded_down() {
    let (plan, pile) = together();
    let overview = overview_drawing(&plan, &pile, &options()).expect("drawn");
    let words = texts(&overview).join(" ");
    for text in
        ["1 C-04", "4 PLY-18, piece 2", "makes 98 peg", "less than 60.12", "apron", "77 in or longer", "Rough or"]
    {
        assert!(words.contains(text), "{text}");
    }
}

#[test]
fn an_ordinary_sheet_fits_the_printable_area_of_a4_and_letter_on_their_side() {
    // ISO 216 A4: 297 x 210 mm; ANSI/ASME Y14.1 A (Letter): 279.4 x 215.9 mm; 6 mm left free on every side.
    for (plan, pile) in [board_with_defects(), long_board(), ply_sheet(), ash_stick(), hostile_names()] {
        let sheet = sheet_of(&plan, &pile);
        assert!(sheet.width <= 279.4 - 12.0 && sheet.height <= 210.0 - 12.0, "{}", sheet.title);
    }
}

#[test]
fn a_plan_that_does_not_fit_its_pile_is_refused() {
    let (plan, _) = board_with_defects();
    let (_, other) = long_board();
    let error = stock_svg(&plan, &other, &options(), 0).expect_err("C-04 is not in that pile");
    assert!(error.to_string().contains("C-04"));

    let (plan, mut pile) = board_with_defects();
    pile.boards[0].length = inches(60);
    let error = stock_svg(&plan, &pile, &options(), 0).expect_err("the board was longer");
    assert!(matches!(error, DrawError::OutsideStock { .. }));

    let (plan, pile) = board_with_defects();
    assert!(matches!(stock_svg(&plan, &pile, &options(), 1), Err(DrawError::NoSuchStock { index: 1, count: 1 })));
    let nothing = DrawOptions { fine: Length::ZERO, ..options() };
    assert!(matches!(overview_svg(&plan, &pile, &nothing), Err(DrawError::Step)));
}

prop_compose! {
    /// A board of any size, ripped and crosscut at random, with defects anywhere.
    fn any_board()(
        length in 200i64..3000,
        width in 40i64..200,
        rips in prop::collection::vec(8i64..80, 1..8),
        pieces in prop::collection::vec(10i64..700, 1..25),
        spots in prop::collection::vec((0i64..100, 0i64..100, 1i64..100, 1i64..100, 0usize..10, any::<bool>()), 0..8),
        bottom in any::<bool>(),
    ) -> (ShopPlan, Pile) {
        use DefectKind::*;
        let kinds = [Knot, Check, Split, Wane, Pith, Sap, Hole, Stain, Bark, Mark];
        let (x0, end) = (16, length - 16);
        let mut strips = Vec::new();
        let mut y = 2;
        let mut copy = 0;
        for rip in rips {
            if y + rip > width - 4 {
                break;
            }
            let mut blanks = Vec::new();
            let mut x = x0 + 8;
            for piece in &pieces {
                if x + piece + 4 > end {
                    break;
                }
                copy += 1;
                blanks.push(blank(x, y, *piece, rip, if copy % 3 == 0 { "stile" } else { "muntin bar" }, copy));
                x += piece + 2;
            }
            strips.push(strip(x0, y, end - x0, rip, blanks));
            y += rip + 2;
        }
        let defects = spots.into_iter().map(|(x, y, l, w, kind, sound)| {
            let (x, y) = (length * x / 100, width * y / 100);
            let face = if bottom { DefectFace::Bottom } else { DefectFace::Through };
            defect(kinds[kind], x, y, (length - x) * l / 100 + 1, (width - y) * w / 100 + 1, face, sound)
        });
        let defects = defects.filter(|d| d.x + d.length <= s(length) && d.y + d.width <= s(width)).collect();
        let tree = vec![section(x0, end - x0, width, strips)];
        let stock = used("R", 1, StockKind::Board, length, width, CutKind::Cross, tree);
        (plan("Random", vec![stock]), pile(vec![board("R", "oak", length, width, defects)]))
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]
    #[test]
    fn any_board_is_drawn_legibly_and_whole((plan, pile) in any_board()) {
        let sheet = sheet_of(&plan, &pile);
        assert_legible(&sheet, "random");
        assert_on_the_page(&sheet, "random");
        for cut in &plan.cuts {
            let number = cut.number.to_string();
            prop_assert_eq!(sheet.labels().filter(|label| label.boxed && label.text == number).count(), 1);
        }
        let file = stock_svg(&plan, &pile, &options(), 0).expect("drawn");
        prop_assert!(roxmltree::Document::parse(&file).is_ok());
    }
}

#[test]
fn a_panel_is_drawn_with_its_staves_side_by_side_and_nothing_over_anything_else() {
    let thin: Vec<i64> = (0..24).map(|i| 16 + i % 3).collect();
    for (part, stock, widths) in
        [("top", "C-07", &[72, 88, 71][..]), ("<b>&\"x", "C<04>", &[80]), ("slats of a very long name", "A", &thin)]
    {
        let plan = panel(part, stock, widths);
        let drawings = panel_drawings(&plan, &options()).expect("a panel can be drawn");
        let [(name, 1, drawing)] = &drawings[..] else { panic!("{} drawings", drawings.len()) };
        assert_eq!(name, part);
        assert_legible(drawing, part);
        assert_on_the_page(drawing, part);
        let heights: Vec<f64> = drawing
            .shapes
            .iter()
            .filter_map(|shape| match shape {
                Shape::Rect { frame, pen: Some(pen), .. } if pen.ink == Ink::Pencil => Some(frame.height),
                _ => None,
            })
            .collect();
        assert_eq!(heights.len(), widths.len());
        let per_width: Vec<f64> = heights.iter().zip(widths).map(|(height, &width)| height / width as f64).collect();
        assert!(per_width.iter().all(|scale| (scale - per_width[0]).abs() < 1e-9), "in proportion: {per_width:?}");
    }
}
