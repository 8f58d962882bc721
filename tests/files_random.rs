//! Files nobody wrote: any pile and job comes back from its own file, and no damage to a file does more than earn a
//! message.

use flitchwork::job::shop::RipFirst;
use flitchwork::job::{Faces, Job, Lamination, Match, MatchRule, MatchScope, Panel, Part, PartGrain, Shop, Wanted};
use flitchwork::measure::{Length, Money, Rational, Units, decimal_from_f64};
use flitchwork::pile::{
    Board, Defect, DefectFace, DefectKind, Face, Nominal, Pile, Price, Rings, Sheet, SheetGrain, Stick, Surfaced,
    Tally, Warp,
};
use flitchwork::{job, pile};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

/// The greatest length a file may hold, in ticks: 1000 in.
const LONGEST: i64 = 1000 * Length::PER_INCH;

fn length(from: i64, to: i64) -> impl Strategy<Value = Length> {
    (from..=to).prop_map(Length::from_ticks)
}

fn side() -> impl Strategy<Value = Length> {
    length(1, LONGEST)
}

fn thick() -> impl Strategy<Value = Length> {
    length(1, 12 * Length::PER_INCH)
}

/// A decimal as a file would hold it.
fn decimal(to: f64) -> impl Strategy<Value = Rational> {
    let hundredths = (0..=(to * 100.0) as i64).prop_map(|n| Rational::new(n.into(), 100.into()));
    let any = (0.0..=to).prop_map(|x| decimal_from_f64(x).expect("a finite figure"));
    prop_oneof![hundredths, any]
}

fn money() -> impl Strategy<Value = Money> {
    decimal(1.0e9).prop_map(Money::from_rational)
}

fn name() -> impl Strategy<Value = String> {
    "[A-Za-z0-9ÄÖÜ\"\\\\/._-]([A-Za-z0-9 \"'\\\\]{0,20}[a-z0-9])?"
}

fn units() -> impl Strategy<Value = Units> {
    select(vec![Units::Inches, Units::Millimetres])
}

fn defect(board_length: Length, board_width: Length) -> impl Strategy<Value = Defect> {
    use DefectKind::{Bark, Check, Hole, Knot, Mark, Pith, Sap, Split, Stain, Wane};
    let (l, w) = (board_length.ticks(), board_width.ticks());
    let place = (0..l, 0..w).prop_flat_map(move |(x, y)| (Just((x, y)), 1..=l - x, 1..=w - y));
    let faces = vec![DefectFace::Top, DefectFace::Bottom, DefectFace::Through];
    let kinds = vec![Knot, Check, Split, Wane, Pith, Sap, Hole, Stain, Bark, Mark];
    (place, select(kinds), select(faces), any::<bool>()).prop_map(|(((x, y), l, w), kind, face, sound)| {
        let [x, y, length, width] = [x, y, l, w].map(Length::from_ticks);
        Defect { kind, x, y, length, width, face, sound }
    })
}

prop_compose! {
    fn board()(length in side(), width in side())(
        defects in prop::collection::vec(defect(length, width), 0..4),
        size in (Just(length), Just(width), thick()),
        words in (name(), option::of(name())),
        nominal in option::of((1_u16..=24, select(vec![2_u16, 4, 8])).prop_map(|(n, d)| Nominal { numerator: n, denominator: d })),
        surfaced in select(vec![Surfaced::Rough, Surfaced::S2s, Surfaced::S4s, Surfaced::Slr1e]),
        rings in option::of(select(vec![Rings::Flat, Rings::Rift, Rings::Quarter])),
        heart in option::of(select(vec![Face::Top, Face::Bottom])),
        price in prop_oneof![money().prop_map(Price::Piece), money().prop_map(Price::BoardFoot)],
        invoice in (option::of(decimal(1.0e6)), option::of(0_u32..=100_000)),
        moisture in option::of(0.0..=250.0),
        warp in prop::array::uniform4(prop_oneof![Just(Length::ZERO), thick()]),
        quantity in 1_u32..=100,
    ) -> Board {
        let [bow, crook, cup, twist] = warp;
        Board {
            id: String::new(), species: words.0, nominal, thickness: size.2, width: size.1, length: size.0, grade: words.1,
            surfaced, rings, heart, price, board_feet: invoice.0, surface_measure: invoice.1, moisture,
            warp: Warp { bow, crook, cup, twist }, defects, quantity,
        }
    }
}

prop_compose! {
    fn sheet()(material in name(), thickness in thick(), length in side(), width in side(),
        grain in select(vec![SheetGrain::Length, SheetGrain::Width, SheetGrain::None]), quantity in 1_u32..=100, cost in money(),
    ) -> Sheet {
        Sheet { id: String::new(), material, thickness, length, width, grain, quantity, cost }
    }
}

prop_compose! {
    fn stick()(material in name(), thickness in thick(), length in side(), width in side(), quantity in 1_u32..=100, cost in money())
        -> Stick {
        Stick { id: String::new(), material, thickness, length, width, quantity, cost }
    }
}

fn pile() -> impl Strategy<Value = Pile> {
    let lists = (
        prop::collection::vec(board(), 0..4),
        prop::collection::vec(sheet(), 0..3),
        prop::collection::vec(stick(), 0..3),
    );
    (units(), select(vec![Tally::Hardwood, Tally::Exact]), lists).prop_map(|(units, tally, lists)| {
        let (mut boards, mut sheets, mut sticks) = lists;
        let ids = boards.iter_mut().map(|b| &mut b.id);
        let ids = ids.chain(sheets.iter_mut().map(|s| &mut s.id)).chain(sticks.iter_mut().map(|s| &mut s.id));
        for (i, id) in ids.enumerate() {
            *id = format!("S {i}");
        }
        Pile { units, tally, boards, sheets, sticks }
    })
}

prop_compose! {
    fn shop(units: Units)(
        lengths in prop::array::uniform5(length(0, Length::PER_INCH)),
        above in prop::array::uniform4(length(1, Length::PER_INCH)),
        figures in (decimal(10.0), decimal(1.0), 0_u32..=20, 4_u32..=20),
        climate in (0.0..=50.0, 50.0..=100.0, 0.0..=30.0),
        always in any::<bool>(),
    ) -> Shop {
        let mut shop = Shop::defaults(units);
        [shop.kerf.rip, shop.trim.edge, shop.allowance.face, shop.defect.margin_width, shop.machine.resaw_height] = lengths;
        [shop.step.rip, shop.print.fine, shop.glue.clamp_spacing, shop.keep.width] = above;
        (shop.warp.factor, shop.keep.credit, shop.machine.sheet_stages, shop.glue.max_layers) = figures;
        (shop.climate.rh_low, shop.climate.rh_high, shop.climate.build_moisture) = climate;
        shop.machine.rip_first = if always { RipFirst::Always } else { RipFirst::Wide };
        shop
    }
}

fn panel() -> impl Strategy<Value = Panel> {
    (1_i64..=LONGEST, any::<bool>(), option::of(1_u32..=1000)).prop_flat_map(|(most, equal, max_boards)| {
        length(1, most).prop_map(move |stave_min| Panel {
            stave_min,
            stave_max: Length::from_ticks(most),
            equal,
            max_boards,
        })
    })
}

#[derive(Clone, Debug)]
enum GluedUp {
    No,
    Lamination(Lamination),
    Panel(Panel),
}

/// Three match groups, each with the rule, scope and worth that its name stands for.
fn matching() -> impl Strategy<Value = Match> {
    (0_usize..3).prop_map(|i| Match {
        group: ["doors", "Legs ", "top"][i].trim().to_owned(),
        rule: [MatchRule::Run, MatchRule::Board, MatchRule::Side][i],
        scope: [MatchScope::Group, MatchScope::Copy, MatchScope::Group][i],
        worth: [None, Money::from_f64(12.5), None][i].clone(),
    })
}

prop_compose! {
    fn part()(
        size in (thick(), side(), side()),
        tenon_shares in (0_i64..=8, 0_i64..=8),
        lumber in any::<bool>(),
        stock in name(),
        faces in select(vec![Faces::C2f, Faces::C1f, Faces::Sound, Faces::Any]),
        rings in prop::collection::vec(select(vec![Rings::Flat, Rings::Rift, Rings::Quarter]), 0..=3),
        grain in select(vec![PartGrain::Along, PartGrain::Across, PartGrain::Any]),
        counts in (1_u32..=100, -1_000_000_i32..=1_000_000),
        value in option::of(money()),
        texts in (option::of(name()), option::of(name())),
        glued in prop_oneof![
            Just(GluedUp::No),
            option::of(1_u32..=4).prop_map(|layers| GluedUp::Lamination(Lamination { layers })),
            panel().prop_map(GluedUp::Panel),
        ],
        matching in option::of(matching()),
    ) -> Part {
        let (thickness, width, length) = size;
        let share = |n: i64| Length::from_ticks(length.ticks() / 8 * n);
        Part {
            id: String::new(), qty: counts.0,
            stock: if lumber { Wanted::Species(stock) } else { Wanted::Material(stock) },
            thickness, width, length, tenons: [share(tenon_shares.0), share(tenon_shares.1)], faces,
            rings: if lumber { rings } else { Vec::new() },
            grain: if lumber && grain == PartGrain::Across { PartGrain::Along } else { grain },
            priority: counts.1, value, group: texts.0, note: texts.1,
            lamination: match &glued { GluedUp::Lamination(lamination) if lumber => Some(lamination.clone()), _ => None },
            panel: match glued { GluedUp::Panel(panel) if lumber => Some(panel), _ => None },
            matching,
        }
    }
}

fn a_job() -> impl Strategy<Value = Job> {
    units().prop_flat_map(|units| {
        (Just(units), option::of(name()), shop(units), prop::collection::vec(part(), 1..5)).prop_map(
            |(units, title, shop, mut parts)| {
                for (i, part) in parts.iter_mut().enumerate() {
                    part.id = format!("P-{i}");
                }
                Job { units, title: title.unwrap_or_default(), shop, parts }
            },
        )
    })
}

/// What may be put in the place of anything in a file.
fn rubbish() -> impl Strategy<Value = serde_json::Value> {
    use serde_json::json;
    prop_oneof![
        select(vec![
            json!(null),
            json!(true),
            json!([]),
            json!({}),
            json!(""),
            json!("-"),
            json!("end"),
            json!("1/0"),
            json!("1e400"),
            json!("NaN"),
            json!("½½"),
            json!("5/4/3"),
            json!("1-2-3 near far"),
            json!("\u{0}\u{202e}"),
            json!("' \""),
            json!(["1", 2, [3]]),
            json!(-0.0),
            json!(1e308),
            json!(-1e308),
            json!(5e-324),
            json!(9007199254740993_i64),
            json!(u64::MAX),
            json!(i64::MIN),
            json!("99999999999999999999999999 in"),
            json!("0.00000000000000000001 mm"),
        ]),
        any::<f64>().prop_filter("JSON has no NaN", |x| x.is_finite()).prop_map(|x| json!(x)),
        ".{0,12}".prop_map(|text| json!(text)),
    ]
}

/// Every place of a tree, as JSON pointers.
fn places(value: &serde_json::Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        serde_json::Value::Object(fields) => {
            fields.iter().for_each(|(name, v)| places(v, &format!("{at}/{name}"), found))
        }
        serde_json::Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, v)| places(v, &format!("{at}/{i}"), found));
        }
        _ => {}
    }
}

fn damaged(text: &str, damage: &[(prop::sample::Index, serde_json::Value)]) -> String {
    let mut tree: serde_json::Value = serde_json::from_str(text).expect("a file of our own is JSON");
    for (index, value) in damage {
        let mut found = Vec::new();
        places(&tree, "", &mut found);
        let place: &String = index.get(found.as_slice());
        *tree.pointer_mut(place).expect("a place in the tree") = value.clone();
    }
    tree.to_string()
}

fn spoilt_bytes(text: &str, spoils: &[(prop::sample::Index, u8)]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for (index, byte) in spoils {
        let at = index.index(bytes.len());
        bytes[at] = *byte;
    }
    bytes
}

/// A refusal names its file and says what is wrong and what would do.
fn said_well<T>(read: Result<T, pile::Faults>) -> Result<(), TestCaseError> {
    let Err(faults) = read else { return Ok(()) };
    prop_assert!(!faults.as_slice().is_empty());
    for fault in &faults {
        prop_assert_eq!(fault.file.as_str(), "f");
        prop_assert!(!fault.what.is_empty() && !fault.cure.is_empty(), "{}", fault);
        prop_assert!(fault.read.chars().count() <= 400, "{}", fault);
        prop_assert!(!fault.to_string().contains(|c: char| c.is_control()), "{:?}", fault);
    }
    Ok(())
}

const BOARDS: &str = "id;species;nominal;width;length;price_per_bf;warp;marks;quantity\r\n\
    B1;\"red oak\";5/4;7,25;98,5;9,80;slight;31-34 near ok, 90-end;2\r\nB2;ash;\"4/4\";6;96;8;;;\r\n";
const PARTS: &str = "id,qty,species,thickness,width,length,tenon_left,rings,panel.stave_min,panel.stave_max,match.group,match.rule\n\
    rail,4,cherry,7/8,3,\"21,5\",1,\"rift, quarter\",,,doors,run\ntop,1,cherry,7/8,20,44,,,2.5,5.5,,\n";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_pile_comes_back_from_its_own_file(pile in pile()) {
        let text = pile::file::write_json(&pile);
        let read = pile::file::read_json("f", &text).map_err(|faults| TestCaseError::fail(faults.to_string()))?;
        prop_assert_eq!(read, pile);
    }

    #[test]
    fn any_job_comes_back_from_its_own_file(job in a_job()) {
        let text = job::file::write_json(&job);
        let read = job::file::read_json("f", &text, None).map_err(|faults| TestCaseError::fail(faults.to_string()))?;
        prop_assert_eq!(read, job);
    }

    #[test]
    fn written_files_satisfy_the_published_schemas(pile in pile(), job in a_job()) {
        let valid = |schema: &serde_json::Value, text: &str| {
            let file: serde_json::Value = serde_json::from_str(text).expect("JSON");
            jsonschema::draft202012::new(schema).expect("a schema").is_valid(&file)
        };
        prop_assert!(valid(&pile::file::schema(), &pile::file::write_json(&pile)));
        prop_assert!(valid(&job::file::schema(), &job::file::write_json(&job)));
    }

    #[test]
    fn no_damage_to_a_pile_does_more_than_earn_a_message(
        pile in pile(),
        damage in prop::collection::vec((any::<prop::sample::Index>(), rubbish()), 1..4),
        spoils in prop::collection::vec((any::<prop::sample::Index>(), 0_u8..128), 1..4),
    ) {
        let text = pile::file::write_json(&pile);
        said_well(pile::file::read_json("f", &damaged(&text, &damage)))?;
        said_well(pile::file::read_json("f", &String::from_utf8_lossy(&spoilt_bytes(&text, &spoils))))?;
    }

    #[test]
    fn no_damage_to_a_job_does_more_than_earn_a_message(
        job in a_job(),
        damage in prop::collection::vec((any::<prop::sample::Index>(), rubbish()), 1..4),
    ) {
        let text = damaged(&job::file::write_json(&job), &damage);
        said_well(job::file::read_json("f", &text, None))?;
        said_well(job::file::read_shop("f", &text))?;
    }

    #[test]
    fn no_damage_to_a_spreadsheet_does_more_than_earn_a_message(
        spoils in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..6),
        units in units(),
    ) {
        said_well(pile::file::read_csv("f", &spoilt_bytes(BOARDS, &spoils), units))?;
        said_well(job::file::read_csv("f", &spoilt_bytes(PARTS, &spoils), units, None))?;
    }
}

/// Once a column's name that is no name went into a message as it stood.
#[test]
fn a_column_whose_name_has_a_control_character_is_named_visibly() {
    for text in ["id;\u{1}ominal\r\nB1;\"4/4\r\n5\"\r\n", "\u{1}d;\u{1}d\r\nB1;B2\r\n"] {
        let faults = pile::file::read_csv("f", text.as_bytes(), Units::Inches).expect_err("a broken file");
        assert!(faults.to_string().contains("\\u{1}"), "{faults}");
        assert!(
            faults.as_slice().iter().all(|fault| !fault.to_string().contains(|c: char| c.is_control())),
            "{faults}"
        );
    }
}
