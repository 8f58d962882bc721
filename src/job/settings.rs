//! The shop's settings as files know them: name, range, meaning and source of each, in one table.
//!
//! Reading, writing, and the schema all go through `SETTINGS`; the defaults themselves are `Shop::defaults`, the group
//! `rates` is `rates_file`'s. A `ShopFile`
//! holds only what its file states, so that a job can override it setting by setting.

use serde_json::{Value, json};

use super::rates::Rates;
use super::rates_file::{RatesRecord, check_rates, rates_node};
use super::shop::{RipFirst, Shop};
use crate::measure::{Length, Rational, Units};
use crate::pile::Faults;
use crate::pile::file::{Written, titled};
use crate::pile::reading::{
    Fields, Group, Least, Node, Num, Ratio, Reader, Record, Shape, Size, Tag, Whole, Words, longest, parse_json,
    read_record, schema_of,
};
use crate::pile::record::{ratio_node, units_field};

/// What a shop file, or a job's own `shop`, states.
#[derive(Clone, Debug, PartialEq)]
pub struct ShopFile {
    /// Units of its plain numbers.
    pub units: Units,
    stated: Vec<(&'static Setting, Figure)>,
    /// What the shop charges, when the file says anything about it: all of it, on top of what it was read under.
    pub(crate) rates: Option<Rates>,
}

impl ShopFile {
    /// Overwrites in `shop` what the file states.
    pub fn apply(&self, shop: &mut Shop) {
        for (setting, figure) in &self.stated {
            setting.set(shop, figure);
        }
        if let Some(rates) = &self.rates {
            shop.rates.clone_from(rates);
        }
    }
}

/// The settings in a JSON text; `file` is what messages call it.
///
/// # Errors
/// Every fault of the file at once.
///
/// # Example
/// ```
/// use flitchwork::{job::{Shop, file::read_shop}, measure::{Length, Units}};
/// let text = r#"{ "format": "flitchwork.shop/1", "units": "in", "kerf": { "rip": "3/32" } }"#;
/// let mut shop = Shop::defaults(Units::Inches);
/// read_shop("shop.json", text)?.apply(&mut shop);
/// assert_eq!(shop.kerf.rip, Length::from_inch_fraction(3, 32));
///
/// let faults = read_shop("shop.json", &text.replace("rip", "ripp")).unwrap_err();
/// assert_eq!(
///     faults.to_string(),
///     "shop.json, kerf.ripp: there is no field \"ripp\" here; did you mean `rip`?"
/// );
/// # Ok::<(), flitchwork::pile::Faults>(())
/// ```
pub fn read_shop(file: &str, text: &str) -> Result<ShopFile, Faults> {
    let node = parse_json(file, text)?;
    let mut reader = Reader::json(file);
    let shop_file = read_record(&mut reader, &ShopFileRecord, &node);
    reader.finish(shop_file)
}

/// The JSON Schema of shop files: every setting with its default, unit, range and source.
pub fn shop_schema() -> Value {
    let about = "The shop profile: every setting of the milling model, and what the shop charges.";
    titled(schema_of(&ShopFileRecord), "flitchwork shop", about)
}

struct ShopFileRecord;

impl Record for ShopFileRecord {
    type Out = ShopFile;

    fn fields(&self, f: &mut Fields<'_>) -> Option<ShopFile> {
        f.required("format", "What the file is: always `flitchwork.shop/1`.", Tag("flitchwork.shop/1"));
        let units = units_field(f);
        let stated = SettingsRecord { rates: &Rates::defaults() }.fields(f)?;
        let shop_file = settings_of(units?, stated);
        let mut shop = Shop::defaults(shop_file.units);
        shop_file.apply(&mut shop);
        check_shop(f, &shop, "");
        Some(shop_file)
    }
}

/// Rules across settings, on a shop with all of them resolved; `within` is where they stand in the file.
pub(crate) fn check_shop(f: &mut Fields<'_>, shop: &Shop, within: &str) {
    if shop.climate.rh_low > shop.climate.rh_high {
        let what =
            format!("the lowest humidity, {} %, is above the highest, {} %", shop.climate.rh_low, shop.climate.rh_high);
        f.fault(&format!("{within}climate.rh_low"), &what, "write the dry season's figure under `rh_low`");
    }
    check_rates(f, &shop.rates, within);
}

/// The settings of a job's `shop`, and of a shop file beside its `format` and `units`.
pub(crate) struct SettingsRecord<'b> {
    /// What the group `rates` is read on top of.
    pub(crate) rates: &'b Rates,
}

/// What a file states: settings of the milling model, and all rates if it says anything about them.
pub(crate) type Stated = (Vec<(&'static Setting, Figure)>, Option<Rates>);

impl Record for SettingsRecord<'_> {
    type Out = Stated;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Stated> {
        let groups = GROUPS.iter().map(|(group, about)| f.optional(group, about, Group(SettingGroup(group))));
        let stated = groups.flatten().flatten().collect();
        let about = "What the shop charges, for quotes: money and hours. All of it is yours to change.";
        Some((stated, f.optional("rates", about, Group(RatesRecord { base: self.rates }))))
    }
}

/// A job's own settings.
pub(crate) fn settings_of(units: Units, (stated, rates): Stated) -> ShopFile {
    ShopFile { units, stated, rates }
}

struct SettingGroup(&'static str);

impl Record for SettingGroup {
    type Out = Vec<(&'static Setting, Figure)>;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Self::Out> {
        let of_group = SETTINGS.iter().filter(|setting| setting.group == self.0);
        Some(
            of_group
                .filter_map(|setting| {
                    let about = format!("{} Source: {}.", setting.about, setting.source);
                    f.optional(setting.name, &about, SettingShape(setting)).map(|figure| (setting, figure))
                })
                .collect(),
        )
    }
}

struct SettingShape(&'static Setting);

impl Shape for SettingShape {
    type Out = Figure;

    fn schema(&self) -> Value {
        let mut schema = match self.0.range {
            Range::Size(least, most) => Size { least, most }.schema(),
            Range::Ratio(low, high) => Ratio { range: (low, high) }.schema(),
            Range::Percent(low, high) => Num { range: (low, high) }.schema(),
            Range::Count(low, high) => Whole { range: (low, high) }.schema(),
            Range::Order => Words::<RipFirst>::of().schema(),
        };
        schema["default"] = match self.0.get(&Shop::defaults(Units::Inches)) {
            Figure::Length(length) => json!(format!("{} in", inch_fraction(length))),
            figure => serde_json::to_value(figure.node(Units::Inches)).unwrap_or_default(),
        };
        schema
    }

    fn unit(&self) -> String {
        match self.0.range {
            Range::Size(least, most) => Size { least, most }.unit(),
            _ => String::new(),
        }
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Figure> {
        Some(match self.0.range {
            Range::Size(least, most) => Figure::Length(Size { least, most }.read(reader, node)?),
            Range::Ratio(low, high) => Figure::Ratio(Ratio { range: (low, high) }.read(reader, node)?),
            Range::Percent(low, high) => Figure::Percent(Num { range: (low, high) }.read(reader, node)?),
            Range::Count(low, high) => Figure::Count(Whole { range: (low, high) }.read(reader, node)?),
            Range::Order => Figure::Order(Words::of().read(reader, node)?),
        })
    }
}

/// A default in inches as people write it; all of them are whole 32nds.
fn inch_fraction(length: Length) -> String {
    let (whole, rest) = (length.ticks() / Length::PER_INCH, length.ticks() % Length::PER_INCH);
    let (mut over, mut under) = (rest * 32 / Length::PER_INCH, 32);
    while over != 0 && over % 2 == 0 {
        (over, under) = (over / 2, under / 2);
    }
    match (whole, over) {
        (whole, 0) => whole.to_string(),
        (0, over) => format!("{over}/{under}"),
        (whole, over) => format!("{whole} {over}/{under}"),
    }
}

/// What the shop states beyond its defaults, as a job file holds it; nothing when it is a shop of defaults.
pub(crate) fn shop_node(shop: &Shop, units: Units) -> Option<Node> {
    let defaults = Shop::defaults(units);
    let mut out = Written::default();
    for (group, _) in GROUPS {
        let mut fields = Written::default();
        for setting in SETTINGS.iter().filter(|setting| setting.group == *group) {
            let figure = setting.get(shop);
            if figure != setting.get(&defaults) {
                fields.put(setting.name, figure.node(units));
            }
        }
        let empty = fields.is_empty();
        out.unless(empty, |out| out.put(group, fields.node()));
    }
    out.maybe(rates_node(&shop.rates, units), |out, rates| out.put("rates", rates));
    (!out.is_empty()).then(|| out.node())
}

/// One setting of the shop.
#[derive(Debug)]
pub(crate) struct Setting {
    group: &'static str,
    name: &'static str,
    range: Range,
    about: &'static str,
    source: &'static str,
    slot: fn(&mut Shop) -> Slot<'_>,
}

impl PartialEq for Setting {
    fn eq(&self, other: &Setting) -> bool {
        (self.group, self.name) == (other.group, other.name)
    }
}

/// The figures a setting may take.
#[derive(Clone, Copy, Debug)]
enum Range {
    Size(Least, Length),
    Ratio(f64, f64),
    Percent(f64, f64),
    Count(u32, u32),
    Order,
}

/// The value of a setting.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Figure {
    Length(Length),
    Ratio(Rational),
    Percent(f64),
    Count(u32),
    Order(RipFirst),
}

impl Figure {
    fn node(&self, units: Units) -> Node {
        match self {
            Figure::Length(length) => Node::Number(length.to_f64(units)),
            Figure::Ratio(ratio) => ratio_node(ratio),
            Figure::Percent(percent) => Node::Number(*percent),
            Figure::Count(count) => Node::Number(f64::from(*count)),
            Figure::Order(order) => Node::Text(match order {
                RipFirst::Wide => "wide".into(),
                RipFirst::Always => "always".into(),
            }),
        }
    }
}

/// Where a setting lives in the shop.
enum Slot<'a> {
    Length(&'a mut Length),
    Ratio(&'a mut Rational),
    Percent(&'a mut f64),
    Count(&'a mut u32),
    Order(&'a mut RipFirst),
}

impl Setting {
    fn set(&self, shop: &mut Shop, figure: &Figure) {
        match ((self.slot)(shop), figure) {
            (Slot::Length(slot), Figure::Length(value)) => *slot = *value,
            (Slot::Ratio(slot), Figure::Ratio(value)) => slot.clone_from(value),
            (Slot::Percent(slot), Figure::Percent(value)) => *slot = *value,
            (Slot::Count(slot), Figure::Count(value)) => *slot = *value,
            (Slot::Order(slot), Figure::Order(value)) => *slot = *value,
            // The table gives every setting a range of its slot's kind; a test reads and writes each of them.
            _ => unreachable!("setting {}.{} has a figure of another kind", self.group, self.name),
        }
    }

    fn get(&self, shop: &Shop) -> Figure {
        match (self.slot)(&mut shop.clone()) {
            Slot::Length(slot) => Figure::Length(*slot),
            Slot::Ratio(slot) => Figure::Ratio(slot.clone()),
            Slot::Percent(slot) => Figure::Percent(*slot),
            Slot::Count(slot) => Figure::Count(*slot),
            Slot::Order(slot) => Figure::Order(*slot),
        }
    }
}

/// The groups of settings, in the order in which files hold them.
const GROUPS: &[(&str, &str)] = &[
    ("kerf", "Wood lost to the saw."),
    ("trim", "Wood trimmed off before it is counted on."),
    ("defect", "How far around a defect the wood is not trusted."),
    ("step", "The step of the rip fence."),
    ("warp", "How unevenly real boards bend."),
    ("allowance", "Oversize of blanks."),
    ("machine", "What the machines take."),
    ("glue", "The glue-up bench."),
    ("climate", "The house the piece will live in, and the shop."),
    ("keep", "What is worth keeping, and what it is credited at."),
    ("print", "How finely lengths are printed for people."),
];

/// Nothing up to this many inches.
const fn upto(inches: i64) -> Range {
    Range::Size(Least::Zero, Length::from_inches(inches))
}

/// More than nothing, up to anything.
const MORE: Range = Range::Size(Least::AboveZero, longest());

const COMMON: &str = "common practice";
const SHOP_1912: &str = "public-domain school texts of 1912 (\"Advanced Projects in Woodwork\", \"Correlated Courses in Woodwork\"): add 1/2 in to the finished length";

macro_rules! setting {
    ($group:ident . $name:ident, $kind:ident, $range:expr, $about:expr, $source:expr) => {
        Setting {
            group: stringify!($group),
            name: stringify!($name),
            range: $range,
            about: $about,
            source: $source,
            slot: |shop| Slot::$kind(&mut shop.$group.$name),
        }
    };
}

/// Every setting, in the order in which files hold them.
static SETTINGS: &[Setting] = &[
    setting!(
        kerf.rip,
        Length,
        upto(1),
        "Kerf of the rip saw.",
        "common practice: table saw, full kerf blade 1/8 in, thin kerf 3/32"
    ),
    setting!(
        kerf.crosscut,
        Length,
        upto(1),
        "Kerf of the crosscut saw.",
        "common practice: mitre or crosscut saw, 0.09 to 0.125 in"
    ),
    setting!(kerf.resaw, Length, upto(1), "Kerf of the band saw.", "common practice: band saw, up to 1/16 in"),
    setting!(
        trim.board_end,
        Length,
        upto(48),
        "Sawn off each end of a board: checks, grit, paint.",
        "common practice: 1/2 to 6 in"
    ),
    setting!(
        trim.snipe,
        Length,
        upto(24),
        "Kept clear at both ends of a planed section.",
        "common practice: about the planer's roller-to-cutter distance, 2 to 6 in"
    ),
    setting!(trim.edge, Length, upto(12), "Taken off a section's reference edge after its crook.", COMMON),
    setting!(trim.far_edge, Length, upto(12), "Taken off a section's far edge.", COMMON),
    setting!(trim.sheet, Length, upto(12), "Taken off each factory edge of a sheet.", "common practice: 0 to 1/2 in"),
    setting!(trim.stick, Length, upto(24), "Taken off each end of a stick.", COMMON),
    setting!(defect.margin_length, Length, upto(12), "Around a defect, along the grain.", COMMON),
    setting!(defect.margin_width, Length, upto(12), "Around a defect, across the grain.", COMMON),
    setting!(
        step.rip,
        Length,
        Range::Size(Least::AboveZero, Length::from_inches(4)),
        "The rip fence is set in whole steps; 1 mm in a millimetre shop.",
        COMMON
    ),
    setting!(
        warp.factor,
        Ratio,
        Range::Ratio(0.0, 10.0),
        "Warp counts so many times: real boards do not bend evenly.",
        COMMON
    ),
    setting!(allowance.length, Length, upto(24), "Blank over finished length with tenons.", SHOP_1912),
    setting!(allowance.width, Length, upto(12), "Blank over finished width.", "common practice: 1/8 to 1/2 in"),
    setting!(allowance.face, Length, upto(2), "Planed off each rough face beyond flattening.", COMMON),
    setting!(allowance.face_surfaced, Length, upto(2), "Planed off each face of surfaced stock.", COMMON),
    setting!(
        allowance.joint,
        Length,
        upto(2),
        "Cleaned up on each edge of a stave.",
        "common practice: 1/32 to 1/8 in"
    ),
    setting!(allowance.layer_length, Length, upto(24), "A lamination's layer over its blank's length.", COMMON),
    setting!(
        allowance.layer_width,
        Length,
        upto(12),
        "A lamination's layer over its blank's width.",
        "common practice: 1/8 to 1/2 in"
    ),
    setting!(
        allowance.layer_face,
        Length,
        upto(2),
        "All layers together over the finished thickness.",
        "common practice: 1/32 to 1/8 in"
    ),
    setting!(
        allowance.panel_length,
        Length,
        upto(24),
        "A stave over the panel's length with tenons.",
        "common practice: panels 1/2 to 2 in over before the final trim"
    ),
    setting!(allowance.panel_width, Length, upto(24), "The staves together over the panel's width.", COMMON),
    setting!(allowance.panel_face, Length, upto(2), "A stave's thickness over the panel's.", COMMON),
    setting!(
        allowance.resaw,
        Length,
        upto(2),
        "A resawn leaf over its finished thickness.",
        "a British furniture-making textbook: 3/32 in a finished face"
    ),
    setting!(
        machine.jointer_width,
        Length,
        MORE,
        "The widest piece that is flattened in one go, on the jointer or on a sled.",
        COMMON
    ),
    setting!(machine.planer_width, Length, MORE, "The widest piece that is planed.", COMMON),
    setting!(
        machine.min_length,
        Length,
        upto(120),
        "The shortest piece that is jointed and planed.",
        "a high-school woodworking safety manual: 14 in at the jointer (others 12)"
    ),
    setting!(
        machine.min_rip_length,
        Length,
        upto(120),
        "The shortest piece that is ripped.",
        "common practice, and the rule of several schools"
    ),
    setting!(
        machine.resaw_height,
        Length,
        upto(1000),
        "The widest blank that is resawn; 0: the shop does not resaw.",
        COMMON
    ),
    setting!(
        machine.rip_first,
        Order,
        Range::Order,
        "When a section is ripped before it is flattened: `wide`, only when wider than the jointer; `always`.",
        COMMON
    ),
    setting!(
        machine.sheet_stages,
        Count,
        Range::Count(0, 20),
        "Changes of cut direction on a sheet that part two kept pieces; 0: any number.",
        COMMON
    ),
    setting!(glue.max_layers, Count, Range::Count(1, 20), "Layers of a lamination at most.", COMMON),
    setting!(glue.clamp_spacing, Length, MORE, "Distance between clamps.", COMMON),
    setting!(
        climate.rh_low,
        Percent,
        Range::Percent(0.0, 100.0),
        "Relative humidity of the dry season, percent.",
        COMMON
    ),
    setting!(
        climate.rh_high,
        Percent,
        Range::Percent(0.0, 100.0),
        "Relative humidity of the damp season, percent.",
        COMMON
    ),
    setting!(
        climate.build_moisture,
        Percent,
        Range::Percent(0.0, 30.0),
        "Moisture content of the wood when it is worked, percent.",
        "NC State Extension, quality control of edge-glued panels: 6 to 8 percent"
    ),
    setting!(keep.length, Length, MORE, "The shortest offcut worth keeping.", COMMON),
    setting!(keep.width, Length, MORE, "The narrowest offcut worth keeping.", COMMON),
    setting!(
        keep.credit,
        Ratio,
        Range::Ratio(0.0, 1.0),
        "Share of the stock's cost per area that a kept offcut is credited at.",
        COMMON
    ),
    setting!(
        print.rough,
        Length,
        Range::Size(Least::AboveZero, Length::from_inches(1)),
        "Step in which rough cuts are printed; 1 mm in a millimetre shop.",
        "common practice: the shop reads 1/16 in for rough work"
    ),
    setting!(
        print.fine,
        Length,
        Range::Size(Least::AboveZero, Length::from_inches(1)),
        "Step in which finished sizes are printed; 0.5 mm in a millimetre shop.",
        "common practice: 1/32 in at the bench"
    ),
];
