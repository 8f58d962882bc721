//! The order of work: numbers, settings, what is a cut and what is not.

use super::super::{Cut, CutKind, Length, ShopPlan, Station};
use super::bench::{Bench, len, one_rail, section, small_cabinet, strip};

type Row = (Station, CutKind, f64, f64, Option<f64>);

fn rows(plan: &ShopPlan, stock: &str) -> Vec<(Station, CutKind, Length, Length, Option<Length>)> {
    let of_stock = plan.cuts.iter().filter(|cut| cut.stock == stock);
    of_stock.map(|cut| (cut.station, cut.cut, cut.at, cut.to, cut.setting)).collect()
}

fn lengths(rows: &[Row]) -> Vec<(Station, CutKind, Length, Length, Option<Length>)> {
    rows.iter().map(|&(station, cut, at, to, setting)| (station, cut, len(at), len(to), setting.map(len))).collect()
}

#[test]
fn one_rail_takes_six_cuts() {
    let plan = one_rail().plan();
    let expected = [
        (Station::RoughCrosscut, CutKind::Cross, 0.875, 1.0, None),
        (Station::RoughCrosscut, CutKind::Cross, 47.0, 47.125, Some(46.0)),
        (Station::Rip, CutKind::Rip, 3.3125, 3.4375, Some(3.125)),
        (Station::FinalCrosscut, CutKind::Cross, 3.875, 4.0, None),
        (Station::FinalCrosscut, CutKind::Cross, 28.0, 28.125, Some(24.0)),
    ];
    assert_eq!(rows(&plan, "C-04"), lengths(&expected));
    assert_eq!(plan.cuts.iter().map(|cut| cut.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
    let edges = |cut: &Cut<Length>| (cut.from_edge, cut.to_edge);
    assert_eq!(edges(&plan.cuts[0]), (len(0.0), len(7.25)));
    assert_eq!(edges(&plan.cuts[2]), (len(1.0), len(47.0)));
    assert_eq!(edges(&plan.cuts[4]), (len(0.1875), len(3.3125)));
}

#[test]
fn scarce_sections_are_freed_first_then_long_ones() {
    let plan = small_cabinet().plan();
    let rough: Vec<_> =
        plan.work.rough.iter().map(|row| (row.stock.as_str(), row.from, row.to, row.cuts.clone())).collect();
    // Only A-1 can make stiles and the slat; rails come from A-2 too, so its longer section waits.
    let expected = [
        ("A-1", len(31.625), len(68.125), vec![1, 2]),
        ("A-1", len(1.0), len(31.5), vec![3, 1]),
        ("A-2", len(1.0), len(56.125), vec![4, 5]),
    ];
    assert_eq!(rough, expected);
    assert_eq!(plan.work.rough[0].makes, "2 stile");
    let settings: Vec<_> = plan.cuts[..5].iter().map(|cut| cut.setting).collect();
    assert_eq!(settings, [None, Some(len(36.5)), Some(len(30.5)), None, Some(len(55.125))]);
}

#[test]
fn rips_of_one_fence_setting_are_made_together_over_the_job() {
    let plan = small_cabinet().plan();
    let rips: Vec<_> = plan.work.rips.iter().map(|row| (row.setting, row.cuts.clone(), row.makes.as_str())).collect();
    let expected = [
        (len(3.125), vec![6, 7, 8], "3 rail, 1 slat"),
        (len(2.125), vec![9, 10], "2 stile"),
        // After the final crosscuts: the slat, cut from a strip as wide as a rail.
        (len(1.625), vec![22], "1 slat"),
    ];
    assert_eq!(rips, expected);
    assert!(plan.cuts[21].what.starts_with("rip slat 1 to its width"));
}

#[test]
fn final_crosscuts_are_grouped_by_stop_setting_and_trims_come_with_them() {
    let plan = small_cabinet().plan();
    let crosscuts: Vec<_> = plan.work.crosscuts.iter().map(|row| (row.setting, row.cuts.clone())).collect();
    // Cuts 11, 13, 16, 18 and 20 square the ends of the five strips.
    assert_eq!(crosscuts, [(len(24.5), vec![12, 14, 15]), (len(30.5), vec![17, 19]), (len(20.5), vec![21])]);
    assert!([11, 13, 16, 18, 20].iter().all(|&number| plan.cuts[number - 1].setting.is_none()));
    let stations: Vec<Station> = plan.cuts.iter().map(|cut| cut.station).collect();
    let mut sorted = stations.clone();
    sorted.dedup();
    use Station::{FinalCrosscut, Rip, RoughCrosscut, Sheet, Stick};
    assert_eq!(sorted, [RoughCrosscut, Rip, FinalCrosscut, Rip, Sheet, Stick]);
}

#[test]
fn a_strip_is_never_ripped_before_the_one_it_lies_behind() {
    let mut bench = Bench::new();
    let wide = bench.part("wide", 2, 24.0, 3.0);
    let thin = bench.part("thin", 1, 24.0, 2.0);
    let class = bench.board("B-1", 34.0, 9.25, 30.0);
    let (w, n) = (bench.cutting(class, &[wide]), bench.cutting(class, &[thin]));
    // Wide, thin, wide: the fence is set to 3 1/8 twice.
    let strips =
        vec![strip(0.125, 3.125, &[(4.0, w)]), strip(3.375, 2.125, &[(4.0, n)]), strip(5.625, 3.125, &[(4.0, w)])];
    bench.cut(class, vec![section(1.0, 30.5, strips)], &[]);
    let settings: Vec<_> = bench.plan().work.rips.iter().map(|row| row.setting).collect();
    assert_eq!(settings, [3.125, 2.125, 3.125].map(len));
}

#[test]
fn a_setting_waits_until_all_its_cuts_can_be_made() {
    let mut bench = Bench::new();
    let long = bench.part("long", 2, 30.0, 3.0);
    let short = bench.part("short", 1, 20.0, 3.0);
    let class = bench.board("B-1", 64.0, 9.25, 30.0);
    let (l, s) = (bench.cutting(class, &[long]), bench.cutting(class, &[short]));
    // One long piece lies behind the short one: the short one first, so that the stop is set to 30 1/2 once.
    let strips = vec![strip(0.125, 3.125, &[(4.0, l)]), strip(3.375, 3.125, &[(4.0, s), (24.625, l)])];
    bench.cut(class, vec![section(1.0, 58.5, strips)], &[]);
    let stops: Vec<_> = bench.plan().work.crosscuts.iter().map(|row| row.setting).collect();
    assert_eq!(stops, [20.5, 30.5].map(len));
}

#[test]
fn waste_beside_a_strip_is_ripped_off_before_it_without_a_setting() {
    let mut bench = Bench::new();
    let rail = bench.part("rail", 1, 24.0, 3.0);
    let class = bench.board("B-1", 34.0, 9.25, 30.0);
    let cutting = bench.cutting(class, &[rail]);
    bench.cut(class, vec![section(1.0, 30.5, vec![strip(2.0, 3.125, &[(4.0, cutting)])])], &[]);
    let plan = bench.plan();
    let rips: Vec<&Cut<Length>> = plan.cuts.iter().filter(|cut| cut.station == Station::Rip).collect();
    assert_eq!((rips[0].at, rips[0].to, rips[0].setting), (len(1.875), len(2.0), None));
    assert_eq!(rips[0].what, "rip 1 3/4\" off the near edge, still rough: bandsaw or track saw");
    assert_eq!((rips[1].at, rips[1].setting), (len(5.125), Some(len(3.125))));
}

#[test]
fn sheets_are_cut_from_the_outside_in_and_sticks_from_the_left() {
    let plan = small_cabinet().plan();
    use CutKind::{Cross, Rip};
    let sheet = [
        (Station::Sheet, Rip, 0.125, 0.25, None),
        (Station::Sheet, Rip, 18.25, 18.375, Some(18.0)),
        (Station::Sheet, Cross, 0.125, 0.25, None),
        (Station::Sheet, Cross, 40.25, 40.375, Some(40.0)),
        (Station::Sheet, Cross, 80.375, 80.5, Some(40.0)),
    ];
    assert_eq!(rows(&plan, "PLY"), lengths(&sheet));
    let sticks = [
        (Station::Stick, Cross, 0.125, 0.25, None),
        (Station::Stick, Cross, 20.25, 20.375, Some(20.0)),
        (Station::Stick, Cross, 40.375, 40.5, Some(20.0)),
        (Station::Stick, Cross, 60.5, 60.625, Some(20.0)),
        (Station::Stick, Cross, 0.125, 0.25, None),
        (Station::Stick, Cross, 20.25, 20.375, Some(20.0)),
    ];
    assert_eq!(rows(&plan, "SQ"), lengths(&sticks));
    let by_stop: Vec<_> = plan.work.sticks.iter().map(|row| (row.setting, row.cuts.len())).collect();
    assert_eq!(by_stop, [(len(20.0), 4)]);
}

#[test]
fn what_ends_at_one_thickness_is_planed_together() {
    let mut bench = small_cabinet();
    bench.milled.items[1].thickness = len(1.0);
    bench.pile.boards[1].species = " cherry".to_owned();
    let plan = bench.plan();
    let batches: Vec<_> =
        plan.work.planer.iter().map(|b| (b.thickness, b.wood.as_str(), b.parts.join(" "), b.blanks)).collect();
    let expected = [(len(1.0), "Cherry", "stile".to_owned(), 2), (len(0.875), "Cherry", "rail slat".to_owned(), 4)];
    assert_eq!(batches, expected);
}
