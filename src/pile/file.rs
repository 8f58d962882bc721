//! Pile files: read from JSON and CSV, written as JSON, described by a JSON Schema.
//!
//! Reading gives the whole pile or every fault of the file; nothing is guessed and nothing is dropped. What the fields
//! are is in `record`; how values are read in `reading`. Files are opened by the caller.

use std::collections::HashMap;

use serde::Serialize;
use serde_json::Value;

use super::reading::{Node, Reader, Step, columns_of, parse_json, read_record, read_table, schema_of};
use super::record::{BoardDefectRecord, BoardRecord, PileRecord, check_count, check_inside, ratio_node};
use super::{Board, Defect, Faults, Pile, Price, Sheet, Stick, Surfaced, Tally, Warp};
use crate::measure::{Length, Units};

/// The pile in a JSON text; `file` is what messages call it.
///
/// # Errors
/// Every fault of the file at once.
///
/// # Example
/// ```
/// use flitchwork::pile::file::read_json;
/// let text = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [
///     { "id": "C-04", "species": "cherry", "nominal": "5/4", "width": "7 1/4", "length": 98.5, "price_per_bf": 9.80 } ] }"#;
/// let pile = read_json("pile.json", text)?;
/// assert_eq!(pile.boards[0].thickness, flitchwork::measure::Length::from_inch_fraction(19, 16));
///
/// let faults = read_json("pile.json", &text.replace("7 1/4", "wide")).unwrap_err();
/// assert!(faults.to_string().starts_with("pile.json, boards[0].width: this is not a length (read \"wide\")"));
/// # Ok::<(), flitchwork::pile::Faults>(())
/// ```
pub fn read_json(file: &str, text: &str) -> Result<Pile, Faults> {
    let node = parse_json(file, text)?;
    let mut reader = Reader::json(file);
    let pile = read_record(&mut reader, &PileRecord, &node);
    reader.finish(pile)
}

/// The boards of a spreadsheet, tallied by the hardwood rule; lengths without a unit are in `units`.
///
/// # Errors
/// Every fault of the file at once.
pub fn read_csv(file: &str, text: &[u8], units: Units) -> Result<Pile, Faults> {
    let mut table = read_table(file, text, units, &columns_of(&BoardRecord), |column| match column {
        "material" | "grain" => Some("sheets and sticks are not read from CSV; write them in a JSON pile"),
        "defects" | "defect" | "kind" | "x" | "y" => {
            Some("note defects under `marks`, or in a CSV of their own with a `board` column")
        }
        _ => None,
    })?;
    let reader = &mut table.reader;
    let mut boards = Vec::with_capacity(table.rows.len());
    for (row, node) in &table.rows {
        boards.extend(reader.within(Step::Row(*row), |reader| read_record(reader, &BoardRecord, node)));
    }
    if table.header_alone {
        reader.fault(String::new(), "there is no board in this file", "write one board a row below the header");
    }
    check_count(reader, boards.iter().map(|board| board.quantity));
    let pile = Pile { units, tally: Tally::Hardwood, boards, sheets: Vec::new(), sticks: Vec::new() };
    table.reader.finish(Some(pile))
}

/// Adds the defects of a spreadsheet with a `board` column to the boards they name; lengths without a unit are in
/// `units`. The pile is left as it was when anything is wrong.
///
/// # Errors
/// Every fault of the file at once.
pub fn read_defects_csv(file: &str, text: &[u8], units: Units, pile: &mut Pile) -> Result<(), Faults> {
    let mut table = read_table(file, text, units, &columns_of(&BoardDefectRecord), |_| None)?;
    let reader = &mut table.reader;
    let by_id: HashMap<&str, usize> = pile.boards.iter().enumerate().map(|(i, board)| (board.id.as_str(), i)).collect();
    let mut found: Vec<(usize, Defect)> = Vec::with_capacity(table.rows.len());
    for (row, node) in &table.rows {
        reader.within(Step::Row(*row), |reader| {
            if let Some(Node::Cell(id)) = node.get("board")
                && !by_id.contains_key(id.as_str())
            {
                let cure = "write the id as it stands in the pile";
                let column = Step::Name("board".into());
                let what = "there is no board of this id in the pile";
                reader.within(column, |reader| reader.fault(Node::Text(id.clone()).shown(), what, cure));
            }
            let Some((id, defect)) = read_record(reader, &BoardDefectRecord, node) else { return };
            if let Some(&at) = by_id.get(id.as_str()) {
                check_inside(reader, &defect, pile.boards[at].length, pile.boards[at].width);
                found.push((at, defect));
            }
        });
    }
    let found = table.reader.finish(Some(found))?;
    for (at, defect) in found {
        pile.boards[at].defects.push(defect);
    }
    Ok(())
}

/// The JSON Schema of pile files: every field the reader knows, and no other. Words compare without case and extra
/// spaces when read; the schema lists their plain spelling.
pub fn schema() -> Value {
    titled(schema_of(&PileRecord), "flitchwork pile", "The stock at hand: boards, sheets and sticks.")
}

/// A schema with its dialect, title and description.
pub(crate) fn titled(mut schema: Value, title: &str, description: &str) -> Value {
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema".into();
    schema["title"] = title.into();
    schema["description"] = description.into();
    schema
}

/// The pile as a JSON file that reads back to the same pile: figures are written in the file's units, marks and warp
/// words as the defects and figures they came to.
pub fn write_json(pile: &Pile) -> String {
    let units = pile.units;
    let mut file = Written::default();
    file.text("format", "flitchwork.pile/1").text("units", units.symbol());
    file.unless(pile.tally == Tally::default(), |file| file.word("tally", &pile.tally));
    file.list("boards", pile.boards.iter().map(|board| board_node(board, units)));
    file.list("sheets", pile.sheets.iter().map(|sheet| sheet_node(sheet, units)));
    file.list("sticks", pile.sticks.iter().map(|stick| stick_node(stick, units)));
    file.into_text()
}

fn board_node(board: &Board, units: Units) -> Node {
    let mut out = Written::default();
    out.text("id", &board.id).text("species", &board.species);
    if let Some(nominal) = board.nominal {
        out.text("nominal", &format!("{}/{}", nominal.numerator, nominal.denominator));
    }
    out.length("thickness", board.thickness, units).length("width", board.width, units);
    out.length("length", board.length, units);
    out.maybe(board.grade.as_ref(), |out, grade| out.text("grade", grade));
    out.unless(board.surfaced == Surfaced::default(), |out| out.word("surfaced", &board.surfaced));
    out.maybe(board.rings.as_ref(), |out, rings| out.word("rings", rings));
    out.maybe(board.heart.as_ref(), |out, heart| out.word("heart", heart));
    match &board.price {
        Price::Piece(cost) => out.put("cost", ratio_node(cost.as_rational())),
        Price::BoardFoot(price) => out.put("price_per_bf", ratio_node(price.as_rational())),
    };
    out.maybe(board.board_feet.as_ref(), |out, feet| out.put("board_feet", ratio_node(feet)));
    out.maybe(board.surface_measure, |out, measure| out.number("surface_measure", f64::from(measure)));
    out.maybe(board.moisture, |out, moisture| out.number("moisture", moisture));
    out.unless(board.warp == Warp::default(), |out| {
        let mut warp = Written::default();
        warp.length("bow", board.warp.bow, units).length("crook", board.warp.crook, units);
        warp.length("cup", board.warp.cup, units).length("twist", board.warp.twist, units);
        out.put("warp", warp.node())
    });
    out.list("defects", board.defects.iter().map(|defect| defect_node(defect, units)));
    out.unless(board.quantity == 1, |out| out.number("quantity", f64::from(board.quantity)));
    out.node()
}

fn defect_node(defect: &Defect, units: Units) -> Node {
    let mut out = Written::default();
    out.word("kind", &defect.kind).length("x", defect.x, units).length("y", defect.y, units);
    out.length("length", defect.length, units).length("width", defect.width, units);
    out.word("face", &defect.face).put("sound", Node::Truth(defect.sound));
    out.node()
}

fn sheet_node(sheet: &Sheet, units: Units) -> Node {
    let mut out = Written::default();
    out.text("id", &sheet.id).text("material", &sheet.material).length("thickness", sheet.thickness, units);
    out.length("length", sheet.length, units).length("width", sheet.width, units).word("grain", &sheet.grain);
    out.number("quantity", f64::from(sheet.quantity)).put("cost", ratio_node(sheet.cost.as_rational()));
    out.node()
}

fn stick_node(stick: &Stick, units: Units) -> Node {
    let mut out = Written::default();
    out.text("id", &stick.id).text("material", &stick.material).length("thickness", stick.thickness, units);
    out.length("width", stick.width, units).length("length", stick.length, units);
    out.number("quantity", f64::from(stick.quantity)).put("cost", ratio_node(stick.cost.as_rational()));
    out.node()
}

/// Fields of a record being written, in order.
#[derive(Default)]
pub(crate) struct Written(Vec<(String, Node)>);

impl Written {
    pub(crate) fn put(&mut self, name: &str, node: Node) -> &mut Written {
        self.0.push((name.to_owned(), node));
        self
    }

    pub(crate) fn text(&mut self, name: &str, text: &str) -> &mut Written {
        self.put(name, Node::Text(text.to_owned()))
    }

    pub(crate) fn number(&mut self, name: &str, number: f64) -> &mut Written {
        self.put(name, Node::Number(number))
    }

    /// A length as a number in `units`; reads back to the same tick.
    pub(crate) fn length(&mut self, name: &str, length: Length, units: Units) -> &mut Written {
        self.number(name, length.to_f64(units))
    }

    /// A word of an enumeration, by its name in files.
    pub(crate) fn word<T: Serialize>(&mut self, name: &str, word: &T) -> &mut Written {
        let word = serde_json::to_value(word).ok().and_then(|value| value.as_str().map(str::to_owned));
        self.text(name, &word.unwrap_or_default())
    }

    /// A list, unless it is empty.
    pub(crate) fn list(&mut self, name: &str, items: impl Iterator<Item = Node>) -> &mut Written {
        let items: Vec<Node> = items.collect();
        self.unless(items.is_empty(), |out| out.put(name, Node::List(items)))
    }

    /// Writes a value that may be absent.
    pub(crate) fn maybe<T>(
        &mut self,
        value: Option<T>,
        write: impl FnOnce(&mut Written, T) -> &mut Written,
    ) -> &mut Written {
        if let Some(value) = value {
            write(self, value);
        }
        self
    }

    /// Writes what is not the default.
    pub(crate) fn unless(&mut self, skip: bool, write: impl FnOnce(&mut Written) -> &mut Written) -> &mut Written {
        if !skip {
            write(self);
        }
        self
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(crate) fn node(self) -> Node {
        Node::Object(self.0)
    }

    /// The text of a file that holds these fields.
    pub(crate) fn into_text(self) -> String {
        // Names are text and numbers finite: the two things that could stop JSON from being written.
        let mut text = serde_json::to_string_pretty(&self.node()).expect("a tree of text and numbers is JSON");
        text.push('\n');
        text
    }
}
