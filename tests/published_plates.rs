//! Published plates against the sheet engine: where a value is proved, ours is the same.
//!
//! The data name their sources. A plate's strips along w are parted by rips (pieces differ in y), those along h by cross
//! cuts. The whole sets are run by `benches/published`.

use flitchwork::nesting::sheet::{Filled, Scratch, SheetEngine, fill, verify};
use flitchwork::nesting::{Direction, Kerfs, Kind, Limits, SheetPiece, SheetStock, Stock};
use serde::Deserialize;

#[derive(Deserialize)]
struct Family {
    source: String,
    instances: Vec<Instance>,
}

#[derive(Deserialize)]
struct Instance {
    name: String,
    plate: Plate,
    items: Vec<Item>,
    answers: Vec<Answer>,
}

#[derive(Deserialize)]
struct Plate {
    w: i64,
    h: i64,
}

#[derive(Deserialize)]
struct Item {
    w: i64,
    h: i64,
    max: Option<u32>,
    value: i64,
}

#[derive(Deserialize)]
struct Answer {
    stages: u32,
    first: Option<String>,
    turns: bool,
    value: i64,
    /// Where the optimum is open: what is proved above it.
    upper: Option<i64>,
    source: String,
}

fn family(text: &str) -> Family {
    let family: Family = serde_json::from_str(text).expect("the data are well formed");
    assert!(!family.source.is_empty() && !family.instances.is_empty());
    family
}

fn unlimited() -> Family {
    family(include_str!("data/plates/unconstrained.json"))
}

fn bounded() -> Family {
    family(include_str!("data/plates/bounded.json"))
}

impl Instance {
    /// The plate as a sheet; with `kerf`, all extents are shrunk by it, which by the kerf identity changes nothing.
    fn stock(&self, stages: u32, first: Option<&str>, turns: bool, kerf: i64) -> Stock {
        let first = first.map(|f| if f == "rip" { Direction::Rip } else { Direction::Cross });
        let mut pieces = Vec::new();
        for (item, i) in self.items.iter().enumerate() {
            let (length, width) = (i.w - kerf, i.h - kerf);
            pieces.push(SheetPiece { item, length, width, turned: false });
            if turns && i.w != i.h {
                pieces.push(SheetPiece { item, length: width, width: length, turned: true });
            }
        }
        let (length, width) = (self.plate.w - kerf, self.plate.h - kerf);
        let kerf = Kerfs { cross: kerf, rip: kerf };
        let sheet = SheetStock { length, width, trim: 0, kerf, stages, first, pieces };
        Stock { count: 1, cost: 0, credit: None, kind: Kind::Sheet(sheet), together: vec![], wider: None }
    }

    fn values(&self) -> Vec<i64> {
        self.items.iter().map(|i| i.value).collect()
    }

    fn limits(&self) -> Vec<u32> {
        self.items.iter().map(|i| i.max.unwrap_or(u32::MAX)).collect()
    }

    /// The plate filled until nothing is left to try: lawful, within the limits.
    fn filled(&self, stock: &Stock) -> Filled {
        let found = fill(stock, &self.values(), &self.limits(), &Limits::default()).expect("the stock is a sheet");
        assert_eq!(verify(stock, &found.layout), Ok(()), "{}", self.name);
        assert!(found.counts.iter().zip(self.limits()).all(|(n, l)| *n <= l), "{}", self.name);
        found
    }

    /// The value of the plate, proved.
    fn proved(&self, stock: &Stock) -> i64 {
        let found = self.filled(stock);
        assert!(found.proven && found.value == found.upper, "{}", self.name);
        found.value
    }
}

#[test]
fn unlimited_plates_reach_their_published_optimum() {
    let mut scratch = Scratch::default();
    for instance in unlimited().instances {
        for a in &instance.answers {
            let stock = instance.stock(a.stages, a.first.as_deref(), a.turns, 0);
            let engine = SheetEngine::new(&stock).expect("the stock is a sheet");
            let found = engine.best(&instance.values(), &mut scratch);
            let case = format!("{} {} stages {:?} turns {} ({})", instance.name, a.stages, a.first, a.turns, a.source);
            assert_eq!(verify(&stock, &found.layout), Ok(()), "{case}");
            assert_eq!((found.value, found.upper), (a.value, a.value), "{case}");
        }
    }
}

#[test]
fn three_stages_lie_between_the_published_two_and_any_number() {
    let mut scratch = Scratch::default();
    for instance in unlimited().instances {
        for turns in [false, true] {
            let value = |stages: u32| {
                let of = instance.answers.iter().filter(|a| a.stages == stages && a.turns == turns);
                of.map(|a| a.value).max()
            };
            let (Some(two), Some(any)) = (value(2), value(0)) else { continue };
            let best = |stages: u32, scratch: &mut Scratch| {
                let stock = instance.stock(stages, None, turns, 0);
                let engine = SheetEngine::new(&stock).expect("the stock is a sheet");
                let found = engine.best(&instance.values(), scratch);
                assert_eq!(verify(&stock, &found.layout), Ok(()), "{}", instance.name);
                found.value
            };
            assert_eq!(best(2, &mut scratch), two, "{}", instance.name);
            let (three, four) = (best(3, &mut scratch), best(4, &mut scratch));
            assert!(two <= three && three <= four && four <= any, "{}: {two} {three} {four} {any}", instance.name);
        }
    }
}

#[test]
fn a_plate_too_fine_for_its_steps_still_brackets_the_published_optimum() {
    let mut scratch = Scratch::default();
    for instance in unlimited().instances {
        for a in instance.answers.iter().filter(|a| a.stages == 0) {
            let stock = instance.stock(0, None, a.turns, 0);
            let engine = SheetEngine::with_steps(&stock, 20_000).expect("the stock is a sheet");
            let found = engine.best(&instance.values(), &mut scratch);
            assert_eq!(verify(&stock, &found.layout), Ok(()), "{}", instance.name);
            assert!(found.value <= a.value && a.value <= found.upper, "{}", instance.name);
        }
    }
}

#[test]
fn bounded_plates_reach_their_published_optimum() {
    for instance in bounded().instances {
        for a in &instance.answers {
            let stock = instance.stock(a.stages, a.first.as_deref(), a.turns, 0);
            let case = format!("{} {} stages {:?} turns {} ({})", instance.name, a.stages, a.first, a.turns, a.source);
            assert_eq!(instance.proved(&stock), a.value, "{case}");
        }
    }
}

/// No optimum is known, only a value and a bound; ours may lie between. The tree of builds alone takes its memory at 60041.
#[test]
fn a_plate_whose_optimum_is_open_is_filled_better_than_published() {
    for instance in family(include_str!("data/plates/open.json")).instances {
        for a in &instance.answers {
            let found = instance.filled(&instance.stock(a.stages, a.first.as_deref(), a.turns, 0));
            let case = format!("{} ({}): {} to {}", instance.name, a.source, found.value, found.upper);
            assert!(found.value >= a.value && found.upper >= a.value, "{case}");
            assert!(a.upper.is_some_and(|upper| found.value <= upper), "{case}");
        }
    }
}

#[test]
fn quick_bounded_layouts_come_near_the_published_optimum_and_never_above() {
    let mut scratch = Scratch::default();
    for instance in bounded().instances {
        for a in &instance.answers {
            let stock = instance.stock(a.stages, a.first.as_deref(), a.turns, 0);
            let engine = SheetEngine::new(&stock).expect("the stock is a sheet");
            let found = engine.best_within(&instance.values(), &instance.limits(), &mut scratch, 30);
            let case = format!("{} {} stages {:?} turns {}", instance.name, a.stages, a.first, a.turns);
            assert_eq!(verify(&stock, &found.layout), Ok(()), "{case}");
            assert!(found.counts.iter().zip(instance.limits()).all(|(n, l)| *n <= l), "{case}");
            assert!(found.value <= a.value && a.value <= found.upper, "{case}: {} {}", found.value, found.upper);
            // How near is our own experience, kept so that a change for the worse is seen.
            assert!(found.value * 100 >= a.value * 95, "{case}: {} of {}", found.value, a.value);
        }
    }
}

/// Kerf k on (W, H, w, h) is kerf 0 on (W + k, H + k, w + k, h + k): the published value holds for the shrunk plate.
#[test]
fn kerf_is_the_same_as_growing_plate_and_pieces_by_it() {
    let mut scratch = Scratch::default();
    for instance in unlimited().instances.iter().filter(|i| i.plate.w <= 500) {
        for a in &instance.answers {
            let stock = instance.stock(a.stages, a.first.as_deref(), a.turns, 3);
            let engine = SheetEngine::new(&stock).expect("the stock is a sheet");
            let found = engine.best(&instance.values(), &mut scratch);
            assert_eq!(verify(&stock, &found.layout), Ok(()), "{}", instance.name);
            assert_eq!((found.value, found.upper), (a.value, a.value), "{}", instance.name);
        }
    }
    for instance in bounded().instances {
        if instance.items.iter().any(|i| i.w < 2 || i.h < 2) {
            continue;
        }
        for a in &instance.answers {
            let stock = instance.stock(a.stages, a.first.as_deref(), a.turns, 1);
            assert_eq!(instance.proved(&stock), a.value, "{}", instance.name);
        }
    }
}
