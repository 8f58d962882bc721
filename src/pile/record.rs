//! What the records of a pile file are made of: boards, their defects, sheets and sticks.
//!
//! Each record names its fields, what they mean, their defaults, and the rules across them; how a value is read and how
//! the schema is written is `reading`'s business. The file around the records is `file`'s.

use std::borrow::Cow;

use serde_json::{Value, json};

use super::marks::{WarpWord, read_marks, said};
use super::reading::{
    Amount, DEFECT_LIMIT, Fields, Group, LIST_LIMIT, Least, ListOf, Node, Num, Quarters, Ratio, Reader, Record, Shape,
    Size, Step, Tag, Text, Truth, Whole, Words, longest, thickest,
};
use super::{
    Board, Defect, DefectFace, DefectKind, Face, Nominal, Pile, Price, Rings, Sheet, SheetGrain, Stick, Surfaced,
    Tally, Warp,
};
use crate::measure::{Length, Rational, Units};
use crate::trade::thickness;

/// Characters of an id, a species, a material, a grade.
pub(crate) const NAME: Text = Text { most: 80 };
/// Equal pieces on one line.
pub(crate) const COUNT: Whole<u32> = Whole { range: (1, 100_000) };
/// Pieces in one file.
pub(crate) const COUNT_IN_ALL: u64 = 1_000_000;

/// A length or width of a piece.
pub(crate) const fn side() -> Size {
    Size { least: Least::AboveZero, most: longest() }
}

/// A thickness of a piece.
pub(crate) const fn thick() -> Size {
    Size { least: Least::AboveZero, most: thickest() }
}

/// The id of a piece or part, unique in its file.
pub(crate) fn id_field(fields: &mut Fields<'_>, about: &str) -> Option<String> {
    let id = fields.required("id", about, NAME)?;
    let reader = fields.reader()?;
    let first = reader.within(Step::Name(Cow::Borrowed("id")), |reader| reader.first_said("id", &id, ""));
    if let Some((_, place)) = first {
        fields.fault("id", &format!("this id is already taken, at {place}"), "give every piece an id of its own");
    }
    Some(id)
}

/// Notes when the pieces of a file are more than anyone could mean.
pub(crate) fn check_count(reader: &mut Reader, counts: impl Iterator<Item = u32>) {
    let total: u64 = counts.map(u64::from).sum();
    if total > COUNT_IN_ALL {
        let what = format!("this file counts {total} pieces in all, more than {COUNT_IN_ALL}");
        reader.fault_at(String::new(), String::new(), what, "check the quantities");
    }
}

/// A whole pile file.
pub(crate) struct PileRecord;

impl Record for PileRecord {
    type Out = Pile;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Pile> {
        f.required("format", "What the file is: always `flitchwork.pile/1`.", Tag("flitchwork.pile/1"));
        let units = units_field(f);
        let tally = f.defaulted(
            "tally",
            "How boards priced by the foot are billed: `hardwood` (surface measure to the nearest whole square foot, exact \
             halves up and down in turn, times the billing thickness) or `exact` (width by true length by billing \
             thickness, unrounded).",
            Words::of(),
            Tally::Hardwood,
            json!("hardwood"),
        );
        let boards = f.optional("boards", "Boards, in the order of the yard's tally.", list(BoardRecord));
        let sheets = f.optional("sheets", "Plywood and other panel stock.", list(SheetRecord));
        let sticks =
            f.optional("sticks", "Squares, mouldings, edging: linear stock of fixed section.", list(StickRecord));
        let boards: Vec<Board> = boards.into_iter().flatten().flatten().collect();
        let sheets: Vec<Sheet> = sheets.into_iter().flatten().flatten().collect();
        let sticks: Vec<Stick> = sticks.into_iter().flatten().flatten().collect();
        let counts = boards.iter().map(|b| b.quantity);
        let counts = counts.chain(sheets.iter().map(|s| s.quantity)).chain(sticks.iter().map(|s| s.quantity));
        if let Some(reader) = f.reader() {
            check_count(reader, counts);
        }
        Some(Pile { units: units?, tally, boards, sheets, sticks })
    }
}

fn list<R: Record>(record: R) -> ListOf<Group<R>> {
    ListOf { shape: Group(record), least: 0, most: LIST_LIMIT }
}

/// The units of a file; from here on its plain numbers are in them.
pub(crate) fn units_field(f: &mut Fields<'_>) -> Option<Units> {
    let units = f.required("units", "What a plain number means: `in` inches, `mm` millimetres.", Words::<Units>::of());
    if let Some(reader) = f.reader() {
        reader.units = units;
    }
    units
}

/// One board.
pub(crate) struct BoardRecord;

impl Record for BoardRecord {
    type Out = Board;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Board> {
        let id = id_field(f, "The maker's mark on it, unique in the file.");
        let species = f.required("species", "The wood, as parts ask for it; case and spaces do not matter.", NAME);
        let nominal = f.optional("nominal", "Nominal thickness by its quarter name, such as `5/4`.", Quarters);
        let about =
            "Measured thickness; left out, the nominal's kiln-dried minimum, or its S2S thickness when surfaced.";
        let thickness = f.optional("thickness", about, thick());
        let width = f.required("width", "Width, across the grain.", side());
        let length = f.required("length", "Length, with the grain.", side());
        let grade = f.optional("grade", "Grade as invoiced, such as `FAS`.", NAME);
        let surfaced = f.defaulted(
            "surfaced",
            "What was done to it: `rough`, `s2s` (both faces), `s4s` (faces and edges), `slr1e` (one straight edge).",
            Words::of(),
            Surfaced::Rough,
            json!("rough"),
        );
        let rings = f.optional("rings", "How the growth rings meet the face, if known.", Words::<Rings>::of());
        let heart = f.optional("heart", "The face towards the heart of the tree, if known.", Words::<Face>::of());
        let price = price_fields(f);
        let about = "Board feet as invoiced; overrides the tally.";
        let board_feet = f.optional("board_feet", about, Ratio { range: (0.0, 1.0e6) });
        let about = "Surface measure in whole square feet as the yard tallied it; used by the hardwood tally.";
        let surface_measure = f.optional("surface_measure", about, Whole { range: (0, 100_000) });
        let moisture = f.optional("moisture", "Moisture content, percent.", Num { range: (0.0, 250.0) });
        let warp = f.optional(
            "warp",
            "How far from flat and straight: a word (`flat`, `slight`, `bad`) or measured gaps over the whole board.",
            WarpShape,
        );
        let defects = defects_fields(f, length, width);
        let quantity = f.defaulted("quantity", "Equal boards entered as one line.", COUNT, 1, json!(1));
        let thickness = thickness_of(f, thickness, nominal, surfaced);
        let length = length?;
        Some(Board {
            id: id?,
            species: species?,
            nominal,
            thickness: thickness?,
            width: width?,
            length,
            grade,
            surfaced,
            rings,
            heart,
            price: price?,
            board_feet,
            surface_measure,
            moisture,
            warp: warp.map(|warp| warp.figures(length)).unwrap_or_default(),
            defects,
            quantity,
        })
    }
}

fn price_fields(f: &mut Fields<'_>) -> Option<Price> {
    let cost = f.optional("cost", "What the piece costs; this or `price_per_bf`.", Amount);
    let about = "What a board foot costs, as billed by the tally; this or `cost`.";
    let price_per_bf = f.optional("price_per_bf", about, Amount);
    f.exactly_one(
        ["cost", "price_per_bf"],
        "write what the piece costs, or what a board foot of it costs; 0 if it was free",
    );
    cost.map(Price::Piece).or(price_per_bf.map(Price::BoardFoot))
}

/// The measured thickness, or what the nominal one promises.
fn thickness_of(
    f: &mut Fields<'_>,
    measured: Option<Length>,
    nominal: Option<Nominal>,
    surfaced: Surfaced,
) -> Option<Length> {
    f.at_least_one(["thickness", "nominal"], "measure its thickness, or write its quarter name under `nominal`");
    if f.has("thickness") {
        return measured;
    }
    let promised = standard_thickness(nominal?, surfaced);
    if promised.is_none() {
        let of = if surfaced.faces_planed() { "S2S" } else { "kiln-dried" };
        f.fault(
            "nominal",
            &format!("there is no standard {of} thickness for it"),
            "measure the board and write its `thickness`",
        );
    }
    promised
}

/// The thickness a nominal one promises: kiln dried, or S2S once both faces are planed; none where it is by agreement.
pub fn standard_thickness(nominal: Nominal, surfaced: Surfaced) -> Option<Length> {
    thickness::find(nominal.numerator, nominal.denominator)?.least(surfaced.faces_planed())
}

/// Defects one by one, then those of the marks.
fn defects_fields(f: &mut Fields<'_>, length: Option<Length>, width: Option<Length>) -> Vec<Defect> {
    let shape = ListOf { shape: Group(DefectRecord), least: 0, most: DEFECT_LIMIT };
    let listed = f.optional("defects", "Rectangles that some parts cannot contain.", shape).unwrap_or_default();
    let about = "Defects by the tape: from-to along the length (`end` = the right end), full width unless `near`, `mid` or \
                 `far` (thirds from the reference edge), through unless `top` or `bottom`, unsound unless `ok`: \
                 `31-34, 60-63 far, 90-end, 12-14 near top ok`.";
    let marks = f.optional("marks", about, Text { most: 4000 });
    let (Some(length), Some(width), Some(reader)) = (length, width, f.reader()) else { return Vec::new() };
    for (i, defect) in listed.iter().enumerate() {
        let Some(defect) = defect else { continue };
        reader.within(Step::Name(Cow::Borrowed("defects")), |reader| {
            reader.within(Step::Index(i), |reader| check_inside(reader, defect, length, width));
        });
    }
    let mut defects: Vec<Defect> = listed.into_iter().flatten().collect();
    if let (Some(marks), Some(units)) = (marks, reader.units) {
        match read_marks(&marks, length, width, units) {
            Ok(marked) => defects.extend(marked),
            Err(faults) => reader.within(Step::Name(Cow::Borrowed("marks")), |reader| {
                for fault in faults {
                    reader.fault(Node::Text(fault.mark).shown(), fault.what, fault.cure);
                }
            }),
        }
    }
    defects
}

/// Notes where a defect leaves its board.
pub(crate) fn check_inside(reader: &mut Reader, defect: &Defect, length: Length, width: Length) {
    let Some(units) = reader.units else { return };
    let ends = [
        ("x", "length", defect.x + defect.length, length, "long"),
        ("y", "width", defect.y + defect.width, width, "wide"),
    ];
    for (from, by, end, limit, how) in ends {
        if end > limit {
            let unit = units.symbol();
            let (end, limit) = (said(end, units), said(limit, units));
            let what = format!(
                "this defect lies outside its board: `{from}` + `{by}` comes to {end} {unit}, the board is {limit} {unit} {how}"
            );
            let cure = "measure along from the left end and across from the reference edge";
            reader.fault(String::new(), what, cure);
        }
    }
}

/// One defect.
pub(crate) struct DefectRecord;

impl Record for DefectRecord {
    type Out = Defect;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Defect> {
        let kind = f.required("kind", "What it is; `mark` when noted by the tape only.", Words::<DefectKind>::of());
        let start = || Size { least: Least::Zero, most: longest() };
        let x = f.required("x", "Start, along the length from the left end.", start());
        let y = f.required("y", "Start, across from the reference edge.", start());
        let length = f.required("length", "Extent along the length.", side());
        let width = f.required("width", "Extent across.", side());
        let about = "Where it shows: `top`, `bottom`, or `through` both faces.";
        let face = f.defaulted("face", about, Words::of(), DefectFace::Through, json!("through"));
        let about = "Still solid wood, a blemish only; left out: true for sap and stain, false for the rest.";
        let sound = f.optional("sound", about, Truth);
        let kind = kind?;
        let sound = sound.unwrap_or(matches!(kind, DefectKind::Sap | DefectKind::Stain));
        Some(Defect { kind, x: x?, y: y?, length: length?, width: width?, face, sound })
    }
}

/// A defect and the board it is on: a row of the defects' own spreadsheet.
pub(crate) struct BoardDefectRecord;

impl Record for BoardDefectRecord {
    type Out = (String, Defect);

    fn fields(&self, f: &mut Fields<'_>) -> Option<(String, Defect)> {
        let board = f.required("board", "The id of the board it is on.", NAME);
        let defect = DefectRecord.fields(f);
        Some((board?, defect?))
    }
}

/// Warp as written: a word, or figures.
pub(crate) enum Warped {
    Word(WarpWord),
    Figures(Warp),
}

impl Warped {
    fn figures(self, length: Length) -> Warp {
        match self {
            Warped::Word(word) => word.figures(length),
            Warped::Figures(warp) => warp,
        }
    }
}

struct WarpShape;

impl Shape for WarpShape {
    type Out = Warped;

    fn schema(&self) -> Value {
        json!({ "anyOf": [Words::<WarpWord>::of().schema(), Group(WarpRecord).schema()] })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Warped> {
        match node {
            Node::Text(_) | Node::Cell(_) => Words::of().read(reader, node).map(Warped::Word),
            Node::Object(_) => Group(WarpRecord).read(reader, node).map(Warped::Figures),
            _ => {
                let cure = "write \"flat\", \"slight\" or \"bad\", or { \"bow\": ..., \"crook\": ..., \"cup\": ..., \"twist\": ... }";
                reader.fault(node.shown(), "this is no warp", cure);
                None
            }
        }
    }

    fn columns(&self, name: &str) -> Vec<String> {
        let mut columns = Group(WarpRecord).columns(name);
        columns.push(name.to_owned());
        columns
    }
}

struct WarpRecord;

impl Record for WarpRecord {
    type Out = Warp;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Warp> {
        let mut gap = |name, about: &str| {
            let shape = Size { least: Least::Zero, most: thickest() };
            f.defaulted(name, about, shape, Length::ZERO, json!(0))
        };
        Some(Warp {
            bow: gap("bow", "Gap under the face, end to end."),
            crook: gap("crook", "Gap along the edge, end to end; the hollow edge is the reference edge."),
            cup: gap("cup", "Gap under the face, edge to edge."),
            twist: gap("twist", "Lift of one corner with the other end flat."),
        })
    }
}

/// One line of equal sheets.
pub(crate) struct SheetRecord;

impl Record for SheetRecord {
    type Out = Sheet;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Sheet> {
        let id = id_field(f, "The maker's mark on it, unique in the file.");
        let material = f.required("material", "What it is, as parts ask for it.", NAME);
        let thickness = f.required("thickness", "Measured thickness.", thick());
        let length = f.required("length", "Length.", side());
        let width = f.required("width", "Width.", side());
        let about = "Which way the face grain runs: along its `length`, its `width`, or `none`.";
        let grain = f.defaulted("grain", about, Words::of(), SheetGrain::Length, json!("length"));
        let quantity = f.defaulted("quantity", "Equal sheets at hand.", COUNT, 1, json!(1));
        let cost = f.required("cost", "What one costs.", Amount);
        Some(Sheet {
            id: id?,
            material: material?,
            thickness: thickness?,
            length: length?,
            width: width?,
            grain,
            quantity,
            cost: cost?,
        })
    }
}

/// One line of equal sticks.
pub(crate) struct StickRecord;

impl Record for StickRecord {
    type Out = Stick;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Stick> {
        let id = id_field(f, "The maker's mark on it, unique in the file.");
        let material = f.required("material", "What it is, as parts ask for it.", NAME);
        let thickness = f.required("thickness", "Thickness of its section.", thick());
        let width = f.required("width", "Width of its section.", side());
        let length = f.required("length", "Length.", side());
        let quantity = f.defaulted("quantity", "Equal sticks at hand.", COUNT, 1, json!(1));
        let cost = f.required("cost", "What one costs.", Amount);
        Some(Stick {
            id: id?,
            material: material?,
            thickness: thickness?,
            width: width?,
            length: length?,
            quantity,
            cost: cost?,
        })
    }
}

/// An exact figure as the nearest JSON number.
pub(crate) fn ratio_node(value: &Rational) -> Node {
    use num_traits::ToPrimitive;
    Node::Number(value.to_f64().unwrap_or_default())
}
