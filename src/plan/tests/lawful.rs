//! Plans of hand-made cases before the independent checker.

use super::bench::{Bench, len, one_rail, section, small_cabinet, strip, t};
use super::pieces::{legs, slats};
use crate::job::Wanted;
use crate::nesting::{Direction, SheetNode};
use crate::pile::DefectFace;

#[test]
fn the_checker_has_nothing_against_the_hand_made_plans() {
    for (name, bench) in [("rail", one_rail()), ("cabinet", small_cabinet()), ("legs", legs()), ("slats", slats())] {
        assert_eq!(bench.violations(), Vec::<String>::new(), "{name}");
    }
}

#[test]
fn the_checker_has_nothing_against_trims_on_every_side_and_a_knot_passed_by() {
    let mut bench = Bench::new();
    let rail = bench.part("rail", 3, 24.0, 3.0);
    let slat = bench.part("slat", 1, 20.0, 1.5);
    let class = bench.board("B-1", 96.0, 9.25, 30.0);
    let (r, s) = (bench.cutting(class, &[rail]), bench.cutting(class, &[slat]));
    bench.knot(class, 30.0, 1.0, 2.0, 2.0, DefectFace::Through);
    // The first section begins away from the end; gaps of all sizes between strips, blanks and sections.
    let strips = vec![strip(0.5, 3.125, &[(5.0, r), (32.5, r)]), strip(3.8125, 3.125, &[(5.25, s), (25.9375, r)])];
    bench.cut(class, vec![section(1.5, 60.0, strips)], &[(61.75, 96.0)]);
    assert_eq!(bench.violations(), Vec::<String>::new());
}

#[test]
fn the_checker_has_nothing_against_a_sheet_of_three_stages_with_loose_pieces() {
    let mut bench = Bench::new();
    let ply = || Wanted::Material("oak ply".to_owned());
    let door = bench.made_of("door", 2, 30.0, 14.0, ply());
    let lid = bench.made_of("lid", 2, 20.0, 9.0, ply());
    for part in &mut bench.job.parts {
        part.thickness = len(0.75);
    }
    let class = bench.sheet("PLY", 96.0, 48.0, &[door, lid]);
    let piece = |x: f64, y: f64, piece: usize| SheetNode::Piece { x: t(x), y: t(y), piece };
    let split = |rect: [f64; 4], direction, children| SheetNode::Split {
        x: t(rect[0]),
        y: t(rect[1]),
        length: t(rect[2]),
        width: t(rect[3]),
        direction,
        children,
    };
    let lids =
        split([0.25, 14.375, 40.25, 9.0], Direction::Cross, vec![piece(0.25, 14.375, 1), piece(20.5, 14.375, 1)]);
    let left = split([0.25, 0.25, 40.25, 47.5], Direction::Rip, vec![piece(0.25, 0.25, 0), lids]);
    let right = split([40.625, 0.25, 40.0, 47.5], Direction::Rip, vec![piece(40.75, 0.375, 0)]);
    let rest = SheetNode::Remnant { x: t(72.0), y: 0, length: t(24.0), width: t(48.0) };
    let whole = split([0.0, 0.0, 96.0, 48.0], Direction::Cross, vec![left, right, rest]);
    bench.cut_sheet(class, whole, &[(door, 2), (lid, 2)]);
    assert_eq!(bench.violations(), Vec::<String>::new());
}
