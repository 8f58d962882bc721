//! The grader held against published grading figures.
//!
//! `tests/data/trade/grade_rules.csv` and `grade_cuttings_table.csv` restate the standard grades of the National Hardwood
//! Lumber Association as trade charts and the illustrated grading guide of the American Hardwood Export Council print them;
//! `grading_examples.csv` holds worked examples, each with its source in its row.

use flitchwork::grade::{GradeOptions, Verdict, grade_board};
use flitchwork::measure::Length;
use flitchwork::pile::{self, Board};
use flitchwork::trade::grades::{FaceGrade, Grade, Way};
use flitchwork::trade::tally::{HalfTurn, surface_measure};
use num_traits::ToPrimitive;
use serde_json::{Value, json};

/// A rectangle in inches: x, y, length, width.
type Box4 = (f64, f64, f64, f64);

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/tests/data/trade/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path).unwrap().records().map(Result::unwrap).collect()
}

/// A 4/4 board with these defects.
fn board_with(width: f64, inches: f64, defects: &[Value]) -> Board {
    let text = json!({ "format": "flitchwork.pile/1", "units": "in", "boards": [
        { "id": "B", "species": "ash", "nominal": "4/4", "width": width, "length": inches, "cost": 1, "defects": defects } ] });
    pile::file::read_json("board", &text.to_string()).unwrap().boards.remove(0)
}

/// A 4/4 board that is clear in these places and marked through everywhere else.
fn board_clear_in(width: f64, inches: f64, places: &[Box4]) -> Board {
    let mut xs = vec![0.0, inches];
    let mut ys = vec![0.0, width];
    for (x, y, l, w) in places {
        xs.extend([*x, x + l]);
        ys.extend([*y, y + w]);
    }
    for lines in [&mut xs, &mut ys] {
        lines.sort_by(f64::total_cmp);
        lines.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    }
    let mut defects = Vec::new();
    for x in xs.windows(2) {
        for y in ys.windows(2) {
            let (cx, cy) = ((x[0] + x[1]) / 2.0, (y[0] + y[1]) / 2.0);
            if !places.iter().any(|(px, py, l, w)| *px < cx && cx < px + l && *py < cy && cy < py + w) {
                defects.push(json!({ "kind": "knot", "x": x[0], "y": y[0], "length": x[1] - x[0], "width": y[1] - y[0], "sound": true }));
            }
        }
    }
    // Marks of a tape rather than knots: they block clear wood and count for no limit.
    let mut board = board_with(width, inches, &defects);
    board.defects.iter_mut().for_each(|defect| defect.kind = pile::DefectKind::Mark);
    board
}

/// Feet of an example in inches, to the sixteenth: 9.333 stands for 9 1/3.
fn inches_of(feet: &str) -> f64 {
    (feet.trim().parse::<f64>().unwrap() * 192.0).round() / 16.0
}

fn measured(board: &Board) -> u32 {
    surface_measure(board.width, board.length, &mut HalfTurn::new()).to_integer().to_u32().unwrap()
}

fn grade_of(board: &Board) -> Option<Grade> {
    let found = grade_board(board, measured(board), &GradeOptions::default());
    assert!(found.settled);
    found.grade
}

/// Where the cuttings of an example lie: one in the middle; several end to end from the left, an inch apart, the last
/// at the right end. Three examples say or need more.
fn places(id: &str, cuttings: &[(f64, f64)], inches: f64) -> Vec<Box4> {
    match id {
        "GR15" => {
            let at = [(0.0, 0.0), (37.0, 0.0), (74.0, 0.0), (132.0, 2.0), (0.0, 7.0), (37.0, 7.0)];
            at.iter().zip(cuttings).map(|((x, y), (w, l))| (*x, *y, *l, *w)).collect()
        }
        // Clear ends that are too short for a cutting: the first foot of a FAS face is half clear.
        "GR11" => vec![(12.0, 0.0, 120.0, 5.0), (0.0, 0.0, 11.0, 5.0), (133.0, 0.0, 11.0, 5.0)],
        "GR18" => vec![(0.0, 0.0, cuttings[0].1, 5.0), (0.0, 5.0, cuttings[1].1, 3.0)],
        _ if cuttings.len() == 1 => vec![((inches - cuttings[0].1) / 2.0, 0.0, cuttings[0].1, cuttings[0].0)],
        _ => {
            let mut x = 0.0;
            let mut places: Vec<Box4> = Vec::new();
            for (w, l) in cuttings {
                places.push((x, 0.0, *l, *w));
                x += l + 1.0;
            }
            let last = places.len() - 1;
            places[last].0 = inches - places[last].2;
            places
        }
    }
}

#[test]
fn every_published_example_has_its_surface_measure_and_grade() {
    for row in rows("grading_examples.csv") {
        let id = &row[0];
        let width: f64 = row[1].parse().unwrap();
        let feet: f64 = row[2].parse().unwrap();
        let cuttings: Vec<(f64, f64)> = row[5]
            .split(';')
            .map(|cutting| {
                let (w, l) = cutting.split_once('x').unwrap();
                (w.trim().parse().unwrap(), inches_of(l))
            })
            .collect();
        // Room for the inch between cuttings that fill the board: a fraction of a foot is not tallied.
        let inches = feet * 12.0 + if id == "GR12" { 2.0 } else { 0.0 };
        let board = board_clear_in(width, inches, &places(id, &cuttings, inches));
        let sm = measured(&board);
        assert_eq!(sm.to_string(), row[3], "{id}");
        let found = grade_board(&board, sm, &GradeOptions::default());
        assert!(found.settled, "{id}");
        assert_eq!(found.grade.map(Grade::name), Some(&row[9]), "{id}: {found:?}");
        let required: f64 = row[8].parse().unwrap();
        let allowed: u32 = row[7].parse().unwrap();
        let (asked, way) = match &row[4] {
            "FAS" => (FaceGrade::Fas, Way::Standard),
            "FAS97" => (FaceGrade::Fas, Way::NinetySeven),
            "1C" => (FaceGrade::No1, Way::Standard),
            "1C+1" => (FaceGrade::No1, Way::ExtraCutting),
            "2A" => (FaceGrade::No2, Way::Standard),
            other => panic!("{other}"),
        };
        let demand = asked.demands(sm).into_iter().find(|demand| demand.way == way).unwrap();
        assert_eq!((demand.hundredths as f64 / 100.0, demand.cuttings), (required, Some(allowed)), "{id}");
    }
}

#[test]
fn the_units_obtained_in_an_example_are_those_published() {
    // Rows whose cuttings all count for the grade they reach.
    for id in ["GR02", "GR03", "GR05", "GR07", "GR09", "GR11", "GR12", "GR15", "GR17"] {
        let row = rows("grading_examples.csv").into_iter().find(|row| &row[0] == id).unwrap();
        let cuttings: Vec<(f64, f64)> = row[5]
            .split(';')
            .map(|cutting| {
                let (w, l) = cutting.split_once('x').unwrap();
                (w.trim().parse().unwrap(), inches_of(l))
            })
            .collect();
        let inches = row[2].parse::<f64>().unwrap() * 12.0 + if id == "GR12" { 2.0 } else { 0.0 };
        let board = board_clear_in(row[1].parse().unwrap(), inches, &places(id, &cuttings, inches));
        let found = grade_board(&board, measured(&board), &GradeOptions::default());
        let way = found.reached().unwrap().faces[0].best_way().unwrap();
        let published: f64 = row[6].parse().unwrap();
        // Lengths of examples are taken to the sixteenth of an inch, and units are rounded down to the hundredth.
        assert!((way.obtained - published).abs() <= 0.05, "{id}: {} of {published}", way.obtained);
    }
}

#[test]
fn cuttings_and_units_are_those_of_the_published_table() {
    for row in rows("grade_cuttings_table.csv") {
        let sm: u32 = row[0].parse().unwrap();
        for (asked, first) in [(FaceGrade::Fas, 1), (FaceGrade::No1, 5), (FaceGrade::No2, 9)] {
            let demands = asked.demands(sm);
            for (way, at) in [(Way::Standard, first), (Way::ExtraCutting, first + 2)] {
                let demand = demands.iter().find(|demand| demand.way == way);
                let cell =
                    |at: usize| row.get(at).filter(|text| !text.is_empty()).map(|text| text.parse::<i64>().unwrap());
                let cuttings = demand.and_then(|demand| demand.cuttings).map(i64::from);
                assert_eq!(cuttings, cell(at), "{asked:?} {way:?} SM {sm}");
                assert_eq!(
                    demand.map(|demand| demand.hundredths),
                    cell(at + 1).map(|units| units * 100),
                    "{asked:?} SM {sm}"
                );
            }
        }
    }
}

#[test]
fn boards_and_cuttings_are_as_small_as_the_published_rules_allow() {
    let mut seen = 0;
    for row in rows("grade_rules.csv") {
        let Some(grade) = Grade::read(&row[0]) else { continue };
        let face = match grade {
            Grade::Fas => Some(FaceGrade::Fas),
            Grade::No1Common => Some(FaceGrade::No1),
            Grade::No2aCommon => Some(FaceGrade::No2),
            Grade::No3aCommon => Some(FaceGrade::No3a),
            Grade::No3bCommon => Some(FaceGrade::No3b),
            _ => None,
        };
        let value = &row[2];
        match (&row[1], face) {
            ("min_board_width", _) => assert_eq!(grade.least_width(), Length::from_inches(value.parse().unwrap())),
            ("min_board_length", _) => assert_eq!(grade.least_feet(), value.parse::<i64>().unwrap()),
            ("units_per_SM", Some(face)) => {
                assert_eq!(face.demands(12)[0].hundredths, value.parse::<i64>().unwrap() * 12 * 100, "{grade:?}");
            }
            ("min_cutting", Some(face)) if grade != Grade::No3bCommon => {
                let pairs: Vec<String> = face
                    .least_cutting()
                    .pairs
                    .iter()
                    .map(|(w, l)| format!("{}x{}", w.ticks() / Length::PER_INCH, l.ticks() / Length::PER_INCH / 12))
                    .collect();
                assert_eq!(pairs.join(" or "), *value, "{grade:?}");
            }
            _ => continue,
        }
        seen += 1;
    }
    assert!(seen > 15, "{seen} rules were found");
}

/// NHLA par. 57 and the trade charts: 6 in and wider, SM 6 to 12, two cuttings of full width and any length, 97 percent. The
/// second cutting is under 5 ft, so it counts for no other way to FAS.
#[test]
fn the_97_percent_rule_takes_cuttings_of_any_length() {
    let places = [(0.0, 0.0, 9.5 * 12.0, 6.0), (14.0 * 12.0 - 4.1 * 12.0, 0.0, 4.1 * 12.0, 6.0)];
    let board = board_clear_in(6.0, 14.0 * 12.0, &places);
    let found = grade_board(&board, 7, &GradeOptions::default());
    assert_eq!(found.grade, Some(Grade::Fas));
    assert_eq!(found.reached().unwrap().faces[0].best_way().unwrap().way, Way::NinetySeven);
}

#[test]
fn a_board_with_one_fas_face_and_a_common_reverse_is_f1f_or_selects_by_its_width() {
    // On the bottom face the longest clear cutting is 5 1/2 ft: too little for FAS, enough for No. 1 Common in two.
    let knot = json!({ "kind": "knot", "x": 66, "y": 2, "length": 1.5, "width": 1.5, "face": "bottom", "sound": true });
    let wide = board_with(6.0, 120.0, std::slice::from_ref(&knot));
    assert_eq!(grade_of(&wide), Some(Grade::F1f));
    let narrow = board_with(5.0, 120.0, &[knot]);
    assert_eq!(grade_of(&narrow), Some(Grade::Selects));
}

#[test]
fn a_surfaced_board_is_graded_from_its_better_face() {
    let knot = json!({ "kind": "knot", "x": 66, "y": 2, "length": 1.5, "width": 1.5, "face": "bottom", "sound": true });
    let mut board = board_with(6.0, 120.0, &[knot]);
    board.surfaced = pile::Surfaced::S2s;
    assert_eq!(grade_of(&board), Some(Grade::Fas));
}

/// Limits of FAS faces, NHLA 2019 par. 57 to 59 and the trade charts, each just kept and just passed on a board of 8 in x
/// 12 ft (SM 8) whose clear wood is ample.
#[test]
fn each_limit_of_fas_holds_on_its_line() {
    let through = |kind: &str, x: f64, y: f64, length: f64, width: f64| json!({ "kind": kind, "x": x, "y": y, "length": length, "width": width, "sound": kind == "knot" });
    let cases = [
        ("pith to SM inches", through("pith", 2.0, 0.0, 8.0, 0.25), through("pith", 2.0, 0.0, 8.5, 0.25)),
        ("wane to half the length", through("wane", 0.0, 0.0, 72.0, 0.5), through("wane", 0.0, 0.0, 72.5, 0.5)),
        ("splits to twice SM inches", through("split", 0.0, 4.0, 16.0, 0.25), through("split", 0.0, 4.0, 16.5, 0.25)),
        ("a split opens 1 in 12", through("split", 0.0, 4.0, 12.0, 1.0), through("split", 0.0, 4.0, 12.0, 1.125)),
        ("knots to a third of SM", through("knot", 71.0, 0.0, 2.625, 2.625), through("knot", 71.0, 0.0, 2.75, 2.625)),
        (
            "a quarter of the end foot unsound",
            through("bark", 0.0, 0.0, 3.0, 8.0),
            through("bark", 0.0, 0.0, 3.125, 8.0),
        ),
    ];
    for (name, kept, passed) in cases {
        assert_eq!(grade_of(&board_with(8.0, 144.0, &[kept])), Some(Grade::Fas), "{name}");
        let board = board_with(8.0, 144.0, &[passed]);
        let found = grade_board(&board, 8, &GradeOptions::default());
        assert_ne!(found.grade, Some(Grade::Fas), "{name}");
        assert!(!found.trials[0].faces[0].breaches.is_empty(), "{name}");
    }
}

#[test]
fn sound_defects_leave_a_board_2b_and_unsound_ones_do_not() {
    // Stain all over: no clear cutting anywhere, sound wood everywhere.
    let stain = |sound: bool| json!({ "kind": "stain", "x": 0, "y": 0, "length": 96, "width": 6, "sound": sound });
    assert_eq!(grade_of(&board_with(6.0, 96.0, &[stain(true)])), Some(Grade::No2bCommon));
    assert_eq!(grade_of(&board_with(6.0, 96.0, &[stain(false)])), None);
}

#[test]
fn cup_that_planes_below_the_standard_thickness_keeps_a_board_from_fas() {
    let mut board = board_with(6.0, 96.0, &[]);
    // Kiln-dried 4/4 is 15/16 in and surfaces to 13/16 in: 1/8 in to spare.
    board.warp.cup = Length::from_inch_fraction(1, 8);
    assert_eq!(grade_of(&board), Some(Grade::Fas));
    board.warp.cup = Length::from_inch_fraction(5, 32);
    assert_eq!(grade_of(&board), Some(Grade::Selects));
}

#[test]
fn a_search_that_ends_early_says_that_a_better_grade_is_not_ruled_out() {
    // Staggered knots: the greedy cuttings fall short of No. 1 Common, and one step is no search.
    let defects: Vec<Value> = (0..9)
        .map(|k| {
            let y = [0.5, 3.5, 6.25][k % 3];
            json!({ "kind": "knot", "x": 8 + 15 * k, "y": y, "length": 2, "width": 1.5, "sound": true })
        })
        .collect();
    let board = board_with(9.0, 144.0, &defects);
    let hurried = grade_board(&board, 9, &GradeOptions { steps: 0, best_cuttings: false });
    let patient = grade_board(&board, 9, &GradeOptions::default());
    assert!(patient.settled);
    assert!(hurried.grade >= patient.grade, "a hurried grade is never better");
    for (early, late) in hurried.trials.iter().zip(&patient.trials) {
        assert!(early.verdict == late.verdict || early.verdict == Verdict::Unsettled, "{:?}", early.grade);
    }
}
