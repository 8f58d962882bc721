//! What the records of a job file are made of: the job, its parts, and how parts are glued up and matched.
//!
//! Each record names its fields, what they mean, their defaults, and the rules across them; how a value is read and how
//! the schema is written is `pile::reading`'s business. The file around the records is `file`'s.

use serde_json::{Value, json};

use super::rates::Rates;
use super::settings::{SettingsRecord, ShopFile, check_shop, settings_of};
use super::{Faces, Job, Lamination, Match, MatchRule, MatchScope, Panel, Part, PartGrain, Shop, Wanted};
use crate::measure::{Length, Units};
use crate::pile::reading::{
    Amount, Fields, Group, LIST_LIMIT, Least, ListOf, Node, Reader, Record, Shape, Size, Step, Tag, Text, Truth, Whole,
    Words, columns_of, longest,
};
use crate::pile::record::{COUNT, NAME, check_count, id_field, side, thick, units_field};
use crate::pile::{Rings, normal_words, said};

/// A whole job file, on top of a shop file if there is one.
pub(crate) struct JobRecord<'b> {
    pub(crate) base: Option<&'b ShopFile>,
}

impl Record for JobRecord<'_> {
    type Out = Job;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Job> {
        f.required("format", "What the file is: always `flitchwork.job/1`.", Tag("flitchwork.job/1"));
        let units = units_field(f);
        let title = f.defaulted("title", "A title for the sheets.", Text { most: 200 }, String::new(), json!(""));
        let about = "Settings of the shop, only what differs from the shop file or the defaults.";
        let defaults = Rates::defaults();
        let rates = self.base.and_then(|file| file.rates.as_ref()).unwrap_or(&defaults);
        let stated = f.optional("shop", about, Group(SettingsRecord { rates })).unwrap_or_default();
        let own = settings_of(units.unwrap_or(Units::Inches), stated);
        let shop = resolve(own.units, self.base, Some(&own));
        check_shop(f, &shop, "shop.");
        let parts = ListOf { shape: Group(PartRecord::under(&shop)), least: 1, most: LIST_LIMIT };
        let parts = f.required("parts", "Finished pieces.", parts);
        let parts: Vec<Part> = parts?.into_iter().flatten().collect();
        if let Some(reader) = f.reader() {
            check_count(reader, parts.iter().map(|part| part.qty));
        }
        Some(Job { units: units?, title, shop, parts: with_groups_settled(parts) })
    }
}

/// The shop of a job in these units: the defaults, what the shop file states, what the job states.
pub(crate) fn resolve(units: Units, base: Option<&ShopFile>, own: Option<&ShopFile>) -> Shop {
    let mut shop = Shop::defaults(units);
    for file in base.into_iter().chain(own) {
        file.apply(&mut shop);
    }
    shop
}

/// Gives every member of a match group the group's first spelling, and the worth that any of them states.
pub(crate) fn with_groups_settled(mut parts: Vec<Part>) -> Vec<Part> {
    let mut settled: std::collections::HashMap<String, Match> = std::collections::HashMap::new();
    for matching in parts.iter().filter_map(|part| part.matching.as_ref()) {
        let first = settled.entry(normal_words(&matching.group)).or_insert_with(|| matching.clone());
        if first.worth.is_none() {
            first.worth.clone_from(&matching.worth);
        }
    }
    for matching in parts.iter_mut().filter_map(|part| part.matching.as_mut()) {
        if let Some(first) = settled.get(&normal_words(&matching.group)) {
            matching.group.clone_from(&first.group);
            matching.worth.clone_from(&first.worth);
        }
    }
    parts
}

/// One part.
pub(crate) struct PartRecord {
    max_layers: u32,
}

impl PartRecord {
    /// A part made in this shop.
    pub(crate) fn under(shop: &Shop) -> PartRecord {
        PartRecord { max_layers: shop.glue.max_layers }
    }
}

impl Record for PartRecord {
    type Out = Part;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Part> {
        let id = id_field(f, "Its name in the job, unique in the file.");
        let qty = f.defaulted("qty", "Copies to make.", COUNT, 1, json!(1));
        let stock = stock_fields(f);
        let thickness = f.required("thickness", "Finished thickness.", thick());
        let width = f.required("width", "Finished width.", side());
        let length = f.required("length", "Finished length between shoulders, tenons not counted.", side());
        let tenons = tenons_field(f, length);
        let about = "How clear it must be: `c2f` no defect on either face, `c1f` none on one face and sound ones on the \
                     other, `sound` sound defects only, `any`.";
        let faces = f.defaulted("faces", about, Words::of(), Faces::C1f, json!("c1f"));
        let rings = ListOf { shape: Words::<Rings>::of(), least: 0, most: 3 };
        let about = "Ring directions it accepts; left out or empty: any.";
        let rings = f.defaulted("rings", about, rings, Vec::new(), json!([]));
        let about = "How a sheet part lies to the face grain.";
        let grain = f.defaulted("grain", about, Words::of(), PartGrain::Along, json!("along"));
        let about = "Higher first when not everything can be made.";
        let priority = f.defaulted("priority", about, Whole { range: (-1_000_000, 1_000_000) }, 0, json!(0));
        let about = "What one finished copy is worth when not everything can be made; left out: its finished volume.";
        let value = f.optional("value", about, Amount);
        let group = f.optional("group", "Sub-assembly it belongs to.", NAME);
        let note = f.optional("note", "Free text for the sheets.", Text { most: 1000 });
        let lamination = f.optional("lamination", "Built up in thickness from layers.", LaminationShape);
        let panel = f.optional("panel", "Built up in width from staves.", Group(PanelRecord));
        let matching = f.optional("match", "Kept together for grain and colour.", Group(MatchRecord));
        glue_rules(f, lamination.as_ref(), self.max_layers);
        if grain == PartGrain::Across && f.has("species") {
            let cure = "a board's grain runs with the length: exchange `length` and `width`, or ask for a `material`";
            f.fault("grain", "lumber is never cut across its grain", cure);
        }
        Some(Part {
            id: id?,
            qty,
            stock: stock?,
            thickness: thickness?,
            width: width?,
            length: length?,
            tenons: tenons?,
            faces,
            rings: rings.into_iter().flatten().collect(),
            grain,
            priority,
            value,
            group,
            note,
            lamination,
            panel,
            matching,
        })
    }
}

fn stock_fields(f: &mut Fields<'_>) -> Option<Wanted> {
    let species = f.optional("species", "The lumber it is made from; this or `material`.", NAME);
    let about = "The sheet or stick stock it is made from; this or `species`.";
    let material = f.optional("material", about, NAME);
    f.exactly_one(["species", "material"], "ask for a `species` of lumber, or for the `material` of a sheet or stick");
    species.map(Wanted::Species).or(material.map(Wanted::Material))
}

/// Both tenons: a pair in JSON, two columns in a spreadsheet. `None` when one is wrong.
fn tenons_field(f: &mut Fields<'_>, length: Option<Length>) -> Option<[Length; 2]> {
    let about = "Tenon lengths at the left and right end.";
    let pair = f.optional("tenons", about, ListOf { shape: TenonShape, least: 2, most: 2 });
    let left = f.column("tenon_left", TenonShape);
    let right = f.column("tenon_right", TenonShape);
    let pair = match pair {
        Some(pair) => pair,
        None if f.has("tenons") || f.has("tenon_left") && left.is_none() || f.has("tenon_right") && right.is_none() => {
            return None;
        }
        None => vec![Some(left.unwrap_or_default()), Some(right.unwrap_or_default())],
    };
    let [Some(left), Some(right)] = pair[..] else { return None };
    let in_rows = f.reader().is_some_and(|reader| reader.is_csv());
    for (i, tenon) in [left, right].into_iter().enumerate() {
        let (Some(length), Some(units)) = (length, f.reader().and_then(|reader| reader.units)) else { continue };
        if tenon > length {
            let (tenon, length, unit) = (said(tenon, units), said(length, units), units.symbol());
            let name = if in_rows { ["tenon_left", "tenon_right"][i] } else { ["tenons[0]", "tenons[1]"][i] };
            let what = format!("a tenon of {tenon} {unit} is longer than its part, {length} {unit}");
            f.fault(name, &what, "`length` counts from shoulder to shoulder; check both figures");
        }
    }
    Some([left, right])
}

/// A tenon's length; a pair of them has no single column.
struct TenonShape;

impl Shape for TenonShape {
    type Out = Length;

    fn schema(&self) -> Value {
        Size { least: Least::Zero, most: longest() }.schema()
    }

    fn unit(&self) -> String {
        Size { least: Least::Zero, most: longest() }.unit()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Length> {
        Size { least: Least::Zero, most: longest() }.read(reader, node)
    }

    fn columns(&self, _name: &str) -> Vec<String> {
        Vec::new()
    }
}

fn glue_rules(f: &mut Fields<'_>, lamination: Option<&Lamination>, max_layers: u32) {
    f.not_both(["lamination", "panel"], "a part is built up in thickness or in width: part it into two parts");
    let lumber = "only lumber is glued up: ask for a `species`";
    f.not_both(["material", "lamination"], lumber);
    f.not_both(["material", "panel"], lumber);
    f.not_both(["material", "rings"], "only lumber has growth rings: ask for a `species`");
    if let Some(layers) = lamination.and_then(|lamination| lamination.layers)
        && layers > max_layers
    {
        let what = format!("{layers} layers are more than the shop glues, {max_layers}");
        f.fault("lamination.layers", &what, "use thicker stock, or raise `glue.max_layers` in the shop settings");
    }
}

/// A lamination: a group of fields, or `yes` in a spreadsheet's cell.
struct LaminationShape;

impl Shape for LaminationShape {
    type Out = Lamination;

    fn schema(&self) -> Value {
        Group(LaminationRecord).schema()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Lamination> {
        let Node::Cell(text) = node else { return Group(LaminationRecord).read(reader, node) };
        if matches!(normal_words(text).as_str(), "yes" | "true") {
            return Some(Lamination { layers: None });
        }
        let cure = "write `yes`, or the number of layers in a column `lamination.layers`; leave it empty for none";
        reader.fault(node.shown(), "this is no lamination", cure);
        None
    }

    fn columns(&self, name: &str) -> Vec<String> {
        let mut columns = Group(LaminationRecord).columns(name);
        columns.push(name.to_owned());
        columns
    }
}

struct LaminationRecord;

impl Record for LaminationRecord {
    type Out = Lamination;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Lamination> {
        let about = "Layers, from 1 to the shop's `glue.max_layers`; left out: chosen from the stock.";
        let layers = f.optional("layers", about, Whole { range: (1, 20) });
        Some(Lamination { layers })
    }
}

struct PanelRecord;

impl Record for PanelRecord {
    type Out = Panel;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Panel> {
        let stave_min = f.required("stave_min", "Narrowest net stave width.", side());
        let stave_max = f.required("stave_max", "Widest net stave width.", side());
        let equal = f.defaulted("equal", "One width for all staves.", Truth, false, json!(false));
        let max_boards = f.optional("max_boards", "From at most so many boards.", Whole { range: (1, 1000) });
        let (stave_min, stave_max) = (stave_min?, stave_max?);
        if stave_min > stave_max {
            f.fault(
                "stave_min",
                "the narrowest stave is wider than the widest",
                "exchange `stave_min` and `stave_max`",
            );
        }
        Some(Panel { stave_min, stave_max, equal, max_boards })
    }
}

struct MatchRecord;

impl Record for MatchRecord {
    type Out = Match;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Match> {
        let group = f.required("group", "Name shared by all that belong together.", NAME);
        let about = "`board` from one board or sheet, `run` end to end in one strip, `side` neighbouring strips.";
        let rule = f.required("rule", about, Words::<MatchRule>::of());
        let about =
            "`group` all pieces of all parts that name the group, `copy` the pieces of each copy by themselves.";
        let scope = f.defaulted("scope", about, Words::of(), MatchScope::Group, json!("group"));
        let about = "What breaking it costs; left out: it is never broken.";
        let worth = f.optional("worth", about, Amount);
        let (group, rule) = (group?, rule?);
        let rule_text = format!("{rule:?}").to_lowercase();
        let scope_text = format!("{scope:?}").to_lowercase();
        agree(f, "rule", &group, &rule_text);
        agree(f, "scope", &group, &scope_text);
        if let Some(worth) = &worth {
            agree(f, "worth", &group, &worth.to_string());
        }
        Some(Match { group, rule, scope, worth })
    }
}

/// Notes when an earlier member of the group said something else.
fn agree(f: &mut Fields<'_>, field: &'static str, group: &str, value: &str) {
    let Some(reader) = f.reader() else { return };
    let step = Step::Name(field.into());
    let first = reader.within(step, |reader| reader.first_said(field, &normal_words(group), value));
    if let Some((said, place)) = first
        && said != value
    {
        let what = format!("match group `{group}` has `{field}` `{value}` here and `{said}` at {place}");
        f.fault(
            field,
            &what,
            "a group has one rule, one scope and one worth: give the other parts a group of their own",
        );
    }
}

/// The columns of a parts list.
pub(crate) fn part_columns() -> Vec<String> {
    columns_of(&PartRecord { max_layers: 1 })
}
