//! Small varied jobs and piles, as the JSON files a maker would write.
//!
//! Everything is drawn in sixteenths of an inch and written in inches, or in whole millimetres; parts are of furniture
//! size, boards short, so that a case takes milliseconds. Nothing is planned or judged here. All of it is invented.

use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use serde_json::{Map, Value, json};

/// A job and a pile as files.
#[derive(Clone)]
pub struct Case {
    pub job: String,
    pub pile: String,
}

/// A failing case prints its two files, ready to be saved.
impl std::fmt::Debug for Case {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "job:\n{}\npile:\n{}", self.job, self.pile)
    }
}

/// How lengths are written.
#[derive(Clone, Copy, Debug)]
struct Scale {
    millimetres: bool,
}

impl Scale {
    /// A number of sixteenths as the file has it.
    fn write(self, sixteenths: u32) -> Value {
        if self.millimetres { json!(self.whole_millimetres(sixteenths)) } else { json!(f64::from(sixteenths) / 16.0) }
    }

    /// From one place to another, so that what lay inside a board still does after rounding.
    fn span(self, from: u32, to: u32) -> Value {
        if self.millimetres {
            json!((self.whole_millimetres(to) - self.whole_millimetres(from)).max(1))
        } else {
            json!(f64::from(to - from) / 16.0)
        }
    }

    fn whole_millimetres(self, sixteenths: u32) -> i64 {
        (i64::from(sixteenths) * 254 + 80) / 160
    }

    fn units(self) -> &'static str {
        if self.millimetres { "mm" } else { "in" }
    }
}

/// A list of fields of which some are left out.
fn fields<const N: usize>(list: [(&str, Option<Value>); N]) -> Value {
    let stated = list.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?)));
    Value::Object(stated.collect::<Map<_, _>>())
}

fn inches(from: u32, to: u32) -> impl Strategy<Value = u32> {
    from * 16..=to * 16
}

fn species() -> impl Strategy<Value = &'static str> {
    select(vec!["cherry", "cherry", "cherry", "white oak"])
}

fn rings() -> impl Strategy<Value = &'static str> {
    select(vec!["flat", "rift", "quarter"])
}

/// A defect inside a board of `length` x `width` sixteenths.
fn defect(scale: Scale, length: u32, width: u32) -> impl Strategy<Value = Value> {
    let kinds = vec!["knot", "check", "split", "wane", "pith", "sap", "hole", "stain", "bark"];
    let place = (0..length - 64, 0..width - 16, 4_u32..=64, 4_u32..=16);
    let words = (select(kinds), option::of(select(vec!["top", "bottom", "through"])), option::of(any::<bool>()));
    (place, words).prop_map(move |((x, y, along, across), (kind, face, sound))| {
        fields([
            ("kind", Some(json!(kind))),
            ("x", Some(scale.write(x))),
            ("y", Some(scale.write(y))),
            ("length", Some(scale.span(x, x + along))),
            ("width", Some(scale.span(y, y + across))),
            ("face", face.map(|face| json!(face))),
            ("sound", sound.map(|sound| json!(sound))),
        ])
    })
}

/// Gaps of a board, or a word for them.
fn warp(scale: Scale) -> impl Strategy<Value = Option<Value>> {
    let figures = prop::array::uniform4(prop_oneof![Just(0_u32), 1_u32..=8]);
    prop_oneof![
        Just(None),
        select(vec!["flat", "slight", "bad"]).prop_map(|word| Some(json!(word))),
        figures.prop_map(move |[bow, crook, cup, twist]| {
            let [bow, crook, cup, twist] = [bow, crook, cup / 2, twist].map(|gap| scale.write(gap));
            Some(json!({ "bow": bow, "crook": crook, "cup": cup, "twist": twist }))
        }),
    ]
}

/// What a board costs, in one of the ways a pile states it.
#[derive(Clone, Debug)]
enum Price {
    Piece(u32),
    Foot(u32),
    Tallied(u32, u32),
}

prop_compose! {
    fn board(scale: Scale)(length in inches(20, 60), width in inches(3, 9))(
        defects in prop::collection::vec(defect(scale, length, width), 0..4),
        size in (Just(length), Just(width), prop_oneof![2 => 14_u32..=24, 1 => 32_u32..=40]),
        species in species(),
        surfaced in prop_oneof![3 => Just("rough"), 1 => Just("s2s"), 1 => Just("s4s"), 1 => Just("slr1e")],
        rings in option::of(rings()),
        warp in warp(scale),
        price in prop_oneof![
            (0_u32..=60).prop_map(Price::Piece),
            (1_u32..=15).prop_map(Price::Foot),
            (1_u32..=15, 1_u32..=6).prop_map(|(price, feet)| Price::Tallied(price, feet)),
        ],
        quantity in prop_oneof![3 => Just(1_u32), 1 => 2_u32..=3],
    ) -> Value {
        let (cost, per_foot, feet) = match price {
            Price::Piece(cost) => (Some(json!(cost)), None, None),
            Price::Foot(price) => (None, Some(json!(price)), None),
            Price::Tallied(price, feet) => (None, Some(json!(price)), Some(json!(feet))),
        };
        fields([
            ("id", None),
            ("species", Some(json!(species))),
            ("length", Some(scale.write(size.0))),
            ("width", Some(scale.write(size.1))),
            ("thickness", Some(scale.write(size.2))),
            ("surfaced", Some(json!(surfaced))),
            ("rings", rings.map(|rings| json!(rings))),
            ("warp", warp),
            ("cost", cost),
            ("price_per_bf", per_foot),
            ("surface_measure", feet),
            ("quantity", Some(json!(quantity))),
            ("defects", Some(Value::Array(defects))),
        ])
    }
}

prop_compose! {
    fn sheet(scale: Scale)(
        length in inches(24, 60), width in inches(18, 40), grain in select(vec!["length", "width", "none"]),
        quantity in 1_u32..=2, cost in 0_u32..=95,
    ) -> Value {
        json!({ "material": "oak ply", "thickness": scale.write(12), "length": scale.write(length),
            "width": scale.write(width), "grain": grain, "quantity": quantity, "cost": cost })
    }
}

prop_compose! {
    fn stick(scale: Scale)(length in inches(20, 80), quantity in 1_u32..=4, cost in 0_u32..=25) -> Value {
        json!({ "material": "ash square", "thickness": scale.write(32), "width": scale.write(32),
            "length": scale.write(length), "quantity": quantity, "cost": cost })
    }
}

/// `value` with an id of its own.
fn with_id(mut value: Value, id: String) -> Value {
    value["id"] = json!(id);
    value
}

fn pile(scale: Scale) -> impl Strategy<Value = Value> {
    let lists = (
        prop::collection::vec(board(scale), 1..5),
        prop::collection::vec(sheet(scale), 0..3),
        prop::collection::vec(stick(scale), 0..3),
    );
    (lists, any::<bool>()).prop_map(move |((boards, sheets, sticks), exact)| {
        let named = |mark: &str, list: Vec<Value>| -> Vec<Value> {
            list.into_iter().enumerate().map(|(i, piece)| with_id(piece, format!("{mark}{}", i + 1))).collect()
        };
        json!({ "format": "flitchwork.pile/1", "units": scale.units(),
            "tally": if exact { "exact" } else { "hardwood" },
            "boards": named("B", boards), "sheets": named("P", sheets), "sticks": named("S", sticks) })
    })
}

/// What a part is glued up from.
#[derive(Clone, Copy, Debug)]
enum Glued {
    Not,
    Layers(Option<u32>),
    /// Narrowest, widest, all equal, from so many boards.
    Staves(u32, u32, bool, Option<u32>),
}

prop_compose! {
    fn lumber_part(scale: Scale)(
        size in (prop_oneof![2 => inches(3, 20), 1 => inches(20, 40)], inches(1, 5), prop_oneof![Just(5_u32), Just(8), Just(12), Just(12), Just(14), Just(32), 6_u32..=22]),
        species in species(),
        tenons in option::of((0_u32..=24, 0_u32..=24)),
        faces in option::of(select(vec!["c2f", "c1f", "sound", "any"])),
        rings in prop_oneof![4 => Just(None), 1 => prop::collection::vec(rings(), 1..3).prop_map(Some)],
        glued in prop_oneof![
            3 => Just(Glued::Not),
            1 => option::of(1_u32..=3).prop_map(Glued::Layers),
            1 => (8_u32..=40, 8_u32..=48, prop::bool::weighted(0.3), option::weighted(0.3, 1_u32..=3))
                .prop_map(|(least, more, equal, boards)| Glued::Staves(least, least + more, equal, boards)),
        ],
    ) -> Value {
        let (length, width, thickness) = size;
        // A panel is a few staves wide.
        let width = if matches!(glued, Glued::Staves(..)) { width * 3 } else { width };
        let (lamination, panel) = match glued {
            Glued::Not => (None, None),
            Glued::Layers(layers) => (Some(layers.map_or(json!({}), |n| json!({ "layers": n }))), None),
            Glued::Staves(least, most, equal, boards) => (None, Some(fields([
                ("stave_min", Some(scale.write(least))),
                ("stave_max", Some(scale.write(most))),
                ("equal", Some(json!(equal))),
                ("max_boards", boards.map(|boards| json!(boards))),
            ]))),
        };
        fields([
            ("species", Some(json!(species))),
            ("length", Some(scale.write(length))),
            ("width", Some(scale.write(width))),
            ("thickness", Some(scale.write(thickness))),
            ("tenons", tenons.map(|(left, right)| json!([scale.write(left), scale.write(right)]))),
            ("faces", faces.map(|faces| json!(faces))),
            ("rings", rings.map(|mut rings| { rings.sort_unstable(); rings.dedup(); json!(rings) })),
            ("lamination", lamination),
            ("panel", panel),
        ])
    }
}

prop_compose! {
    fn sheet_part(scale: Scale)(
        length in inches(4, 40), width in inches(3, 20), grain in option::of(select(vec!["along", "across", "any"])),
    ) -> Value {
        fields([
            ("material", Some(json!("oak ply"))),
            ("length", Some(scale.write(length))),
            ("width", Some(scale.write(width))),
            ("thickness", Some(scale.write(12))),
            ("grain", grain.map(|grain| json!(grain))),
        ])
    }
}

fn stick_part(scale: Scale) -> impl Strategy<Value = Value> {
    inches(2, 40).prop_map(move |length| {
        json!({ "material": "ash square", "length": scale.write(length), "width": scale.write(32), "thickness": scale.write(32) })
    })
}

prop_compose! {
    fn part(scale: Scale)(
        stock in prop_oneof![5 => lumber_part(scale).boxed(), 2 => sheet_part(scale).boxed(), 1 => stick_part(scale).boxed()],
        qty in 1_u32..=4, priority in prop_oneof![2 => Just(0), 1 => -1..=2], value in option::of(1_u32..=90),
    ) -> Value {
        let mut part = stock;
        part["qty"] = json!(qty);
        part["priority"] = json!(priority);
        if let Some(value) = value {
            part["value"] = json!(value);
        }
        part
    }
}

prop_compose! {
    fn shop(scale: Scale)(
        kerf in (0_u32..=3, 0_u32..=3, 0_u32..=2),
        trim in (0_u32..=24, select(vec![0_u32, 16, 48]), 0_u32..=4, 0_u32..=8),
        margins in (0_u32..=16, 0_u32..=8),
        machine in (select(vec![64_u32, 96, 128]), select(vec![96_u32, 208]), select(vec![0_u32, 96, 224]), select(vec![0_u32, 128, 192])),
        resaw_height in prop_oneof![2 => Just(0_u32), 1 => 48_u32..=80],
        rip_first in select(vec!["wide", "wide", "always"]),
        sheet_stages in 0_u32..=3,
        keep in (select(vec![0.0, 0.3, 1.0]), select(vec![192_u32, 384])),
        factor in select(vec![1.0, 1.25, 2.0]),
    ) -> Value {
        let at = |sixteenths: u32| scale.write(sixteenths);
        let (jointer, planer, min_length, min_rip) = machine;
        json!({
            "kerf": { "rip": at(kerf.0), "crosscut": at(kerf.1), "resaw": at(kerf.2) },
            "trim": { "board_end": at(trim.0), "snipe": at(trim.1), "edge": at(trim.2), "far_edge": at(trim.3) },
            "defect": { "margin_length": at(margins.0), "margin_width": at(margins.1) },
            "machine": { "jointer_width": at(jointer), "planer_width": at(planer), "min_length": at(min_length),
                "min_rip_length": at(min_rip), "resaw_height": at(resaw_height), "rip_first": rip_first,
                "sheet_stages": sheet_stages },
            "warp": { "factor": factor },
            "keep": { "credit": keep.0, "length": at(keep.1) },
        })
    }
}

/// What a group of matched parts asks: a rule, a scope, sometimes what breaking it is worth.
fn matching(group: &'static str) -> impl Strategy<Value = Value> {
    let words =
        (select(vec!["board", "run", "side"]), select(vec!["group", "copy"]), option::weighted(0.3, 0_u32..=40));
    words.prop_map(move |(rule, scope, worth)| {
        fields([
            ("group", Some(json!(group))),
            ("rule", Some(json!(rule))),
            ("scope", Some(json!(scope))),
            ("worth", worth.map(|worth| json!(worth))),
        ])
    })
}

/// A part in the group, if any.
fn matched(mut part: Value, matching: Option<&Value>) -> Value {
    if let Some(matching) = matching {
        part["match"] = matching.clone();
    }
    part
}

fn job(scale: Scale) -> impl Strategy<Value = Value> {
    let parts = prop::collection::vec((part(scale), option::weighted(0.3, 0_usize..2)), 1..5);
    let groups = (matching("first"), matching("second"));
    (parts, groups, option::weighted(0.7, shop(scale))).prop_map(move |(parts, groups, shop)| {
        let of = |group: Option<usize>| group.map(|group| if group == 0 { &groups.0 } else { &groups.1 });
        let parts: Vec<Value> = parts
            .into_iter()
            .enumerate()
            .map(|(i, (part, group))| with_id(matched(part, of(group)), format!("part {}", i + 1)))
            .collect();
        let mut job =
            json!({ "format": "flitchwork.job/1", "units": scale.units(), "title": "a made-up job", "parts": parts });
        if let Some(shop) = shop {
            job["shop"] = shop;
        }
        job
    })
}

/// Any small job and a pile that may or may not serve it; each in its own units.
pub fn case() -> impl Strategy<Value = Case> {
    let scale = || select(vec![false, true]).prop_map(|millimetres| Scale { millimetres });
    (scale(), prop::bool::weighted(0.05)).prop_flat_map(|(of_job, mixed)| {
        let of_pile = Scale { millimetres: of_job.millimetres != mixed };
        let text = |value: &Value| serde_json::to_string_pretty(value).expect("a value of text and finite numbers");
        (job(of_job), pile(of_pile)).prop_map(move |(job, pile)| Case { job: text(&job), pile: text(&pile) })
    })
}
