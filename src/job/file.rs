//! Job files: read from JSON and CSV, written as JSON, described by a JSON Schema; shop files likewise.
//!
//! Reading gives the whole job or every fault of the file. What the fields are is in `record` and `settings`; how values
//! are read in `pile::reading`. Files are opened by the caller.

use serde_json::Value;

use super::record::{JobRecord, PartRecord, part_columns, resolve, with_groups_settled};
use super::settings::shop_node;
use super::{Faces, Job, Lamination, Match, Panel, Part, PartGrain, Wanted};
use crate::measure::{Length, Units};
use crate::pile::Faults;
use crate::pile::file::{Written, titled};
use crate::pile::reading::{Node, Reader, Step, parse_json, read_record, read_table, schema_of};
use crate::pile::record::{check_count, ratio_node};

pub use super::settings::{ShopFile, read_shop, shop_schema};

/// The job in a JSON text, under the shop of `base` where the job does not say otherwise; `file` is what messages call it.
///
/// # Errors
/// Every fault of the file at once.
///
/// # Example
/// ```
/// use flitchwork::job::file::read_json;
/// let text = r#"{ "format": "flitchwork.job/1", "units": "in", "parts": [
///     { "id": "rail", "qty": 4, "species": "cherry", "thickness": "7/8", "width": 3, "length": 21.5, "tenons": [1, 1] } ] }"#;
/// let job = read_json("job.json", text, None)?;
/// assert_eq!(job.parts[0].full_length(), flitchwork::measure::Length::from_inch_fraction(47, 2));
///
/// let faults = read_json("job.json", &text.replace("\"qty\": 4", "\"qty\": 1000000000"), None).unwrap_err();
/// assert_eq!(
///     faults.to_string(),
///     "job.json, parts[0].qty: this must lie between 1 and 100000 (read 1000000000); check the figure"
/// );
/// # Ok::<(), flitchwork::pile::Faults>(())
/// ```
pub fn read_json(file: &str, text: &str, base: Option<&ShopFile>) -> Result<Job, Faults> {
    let node = parse_json(file, text)?;
    let mut reader = Reader::json(file);
    let job = read_record(&mut reader, &JobRecord { base }, &node);
    reader.finish(job)
}

/// The parts list of a spreadsheet, under the shop of `base`; lengths without a unit are in `units`. The job has no
/// title.
///
/// # Errors
/// Every fault of the file at once.
pub fn read_csv(file: &str, text: &[u8], units: Units, base: Option<&ShopFile>) -> Result<Job, Faults> {
    let mut table = read_table(file, text, units, &part_columns(), |column| match column {
        "tenons" | "tenon" => Some("write `tenon_left` and `tenon_right`"),
        "quantity" | "count" | "copies" => Some("did you mean `qty`?"),
        _ => None,
    })?;
    let reader = &mut table.reader;
    let shop = resolve(units, base, None);
    let record = PartRecord::under(&shop);
    let mut parts = Vec::with_capacity(table.rows.len());
    for (row, node) in &table.rows {
        parts.extend(reader.within(Step::Row(*row), |reader| read_record(reader, &record, node)));
    }
    if table.header_alone {
        reader.fault(String::new(), "there is no part in this file", "write one part a row below the header");
    }
    check_count(reader, parts.iter().map(|part| part.qty));
    let job = Job { units, title: String::new(), shop, parts: with_groups_settled(parts) };
    table.reader.finish(Some(job))
}

/// The JSON Schema of job files: every field the reader knows, and no other. Words compare without case and extra spaces
/// when read; the schema lists their plain spelling.
pub fn schema() -> Value {
    let schema = schema_of(&JobRecord { base: None });
    titled(schema, "flitchwork job", "What is to be made: parts, and the shop's settings where they differ.")
}

/// The job as a JSON file that reads back to the same job without a shop file: every setting that is not a default is
/// written into it.
pub fn write_json(job: &Job) -> String {
    let mut file = Written::default();
    file.text("format", "flitchwork.job/1").text("units", job.units.symbol());
    file.unless(job.title.is_empty(), |file| file.text("title", &job.title));
    file.maybe(shop_node(&job.shop, job.units), |file, shop| file.put("shop", shop));
    file.list("parts", job.parts.iter().map(|part| part_node(part, job.units)));
    file.into_text()
}

fn part_node(part: &Part, units: Units) -> Node {
    let mut out = Written::default();
    out.text("id", &part.id).number("qty", f64::from(part.qty));
    match &part.stock {
        Wanted::Species(species) => out.text("species", species),
        Wanted::Material(material) => out.text("material", material),
    };
    out.length("thickness", part.thickness, units).length("width", part.width, units);
    out.length("length", part.length, units);
    out.unless(part.tenons == [Length::ZERO; 2], |out| {
        let pair = part.tenons.map(|tenon| Node::Number(tenon.to_f64(units)));
        out.list("tenons", pair.into_iter())
    });
    out.unless(part.faces == Faces::default(), |out| out.word("faces", &part.faces));
    out.list("rings", part.rings.iter().map(word_node));
    out.unless(part.grain == PartGrain::default(), |out| out.word("grain", &part.grain));
    out.unless(part.priority == 0, |out| out.number("priority", f64::from(part.priority)));
    out.maybe(part.value.as_ref(), |out, value| out.put("value", ratio_node(value.as_rational())));
    out.maybe(part.group.as_ref(), |out, group| out.text("group", group));
    out.maybe(part.note.as_ref(), |out, note| out.text("note", note));
    out.maybe(part.lamination.as_ref(), |out, lamination| out.put("lamination", lamination_node(lamination)));
    out.maybe(part.panel.as_ref(), |out, panel| out.put("panel", panel_node(panel, units)));
    out.maybe(part.matching.as_ref(), |out, matching| out.put("match", match_node(matching)));
    out.node()
}

fn word_node<T: serde::Serialize>(word: &T) -> Node {
    let mut one = Written::default();
    one.word("", word);
    match one.node() {
        Node::Object(fields) => fields.into_iter().next().map_or(Node::Null, |(_, node)| node),
        node => node,
    }
}

fn lamination_node(lamination: &Lamination) -> Node {
    let mut out = Written::default();
    out.maybe(lamination.layers, |out, layers| out.number("layers", f64::from(layers)));
    out.node()
}

fn panel_node(panel: &Panel, units: Units) -> Node {
    let mut out = Written::default();
    out.length("stave_min", panel.stave_min, units).length("stave_max", panel.stave_max, units);
    out.unless(!panel.equal, |out| out.put("equal", Node::Truth(true)));
    out.maybe(panel.max_boards, |out, boards| out.number("max_boards", f64::from(boards)));
    out.node()
}

fn match_node(matching: &Match) -> Node {
    let mut out = Written::default();
    out.text("group", &matching.group).word("rule", &matching.rule).word("scope", &matching.scope);
    out.maybe(matching.worth.as_ref(), |out, worth| out.put("worth", ratio_node(worth.as_rational())));
    out.node()
}
