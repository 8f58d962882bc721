//! Pieces that come from one piece of stock or are not made, against the truth by enumeration.

use proptest::prelude::*;

use super::tiny::{Of, matched};
use super::truth::Truth;
use super::{CENT, check_layouts, kinds, run};
use crate::nesting::{BoardLayout, Kind, Outcome, Problem, Shape, SheetNode, Why};

/// Pieces by item of one layout.
fn counts(problem: &Problem, outcome: &Outcome, layout: usize) -> Vec<u32> {
    let mut counts = vec![0; problem.items.len()];
    let layout = &outcome.layouts[layout];
    match (&layout.shape, &problem.stock[layout.stock].kind) {
        (Shape::Board(BoardLayout { sections, .. }), Kind::Board(board)) => {
            let blanks = sections.iter().flat_map(|section| &section.strips).flat_map(|strip| &strip.blanks);
            let yields = blanks.flat_map(|blank| &board.cuttings[blank.cutting].yields);
            yields.for_each(|&(item, n)| counts[item] += n);
        }
        (Shape::Sheet(node), Kind::Sheet(sheet)) => {
            fn visit(node: &SheetNode, found: &mut dyn FnMut(usize)) {
                match node {
                    SheetNode::Piece { piece, .. } => found(*piece),
                    SheetNode::Split { children, .. } => children.iter().for_each(|child| visit(child, found)),
                    SheetNode::Remnant { .. } => {}
                }
            }
            visit(node, &mut |piece| counts[sheet.pieces[piece].item] += 1);
        }
        (Shape::Stick(stick), Kind::Stick(of)) => {
            stick.pieces.iter().for_each(|&(_, piece)| counts[of.pieces[piece].0] += 1);
        }
        _ => panic!("a layout of another kind than its stock"),
    }
    counts
}

fn keeps_all_sets(problem: &Problem, outcome: &Outcome) -> bool {
    (0..outcome.layouts.len()).all(|layout| {
        let counts = counts(problem, outcome, layout);
        let sets = &problem.stock[outcome.layouts[layout].stock].together;
        sets.iter().all(|set| {
            let of_one = counts[set.pieces[0].0] / set.pieces[0].1;
            set.pieces.iter().all(|&(item, pieces)| counts[item] == of_one * pieces)
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn sets_are_kept_whole_and_bounds_and_costs_stand_on_their_sides_of_the_true_optimum(
        of in kinds(), case in any::<u64>(), work in prop_oneof![1..20u64, 20..20_000u64], seed in 0..9u64,
    ) {
        let problem = matched(case, of);
        let truth = Truth::of(&problem);
        let outcome = run(&problem, work, seed, 1);
        check_layouts(&problem, &outcome);
        prop_assert!(keeps_all_sets(&problem, &outcome), "{:?}", outcome.layouts);
        let optimum = truth.optimum(&outcome.made).expect("what was made can be made");
        prop_assert!(i128::from(outcome.cost) * truth.denominator >= optimum, "{} below the optimum", outcome.cost);
        prop_assert!(
            i128::from(outcome.bound) * truth.denominator <= optimum,
            "bound {} above {optimum} / {}", outcome.bound, truth.denominator,
        );
    }

    #[test]
    fn one_thread_and_two_keep_the_same_sets_in_the_same_layouts(
        of in kinds(), case in any::<u64>(), work in 1..2000u64,
    ) {
        let problem = matched(case, of);
        let (one, two) = (run(&problem, work, 3, 1), run(&problem, work, 3, 2));
        prop_assert_eq!(&one.layouts, &two.layouts);
        prop_assert_eq!((one.cost, one.bound, one.work), (two.cost, two.bound, two.work));
    }
}

/// The bound knows nothing of sets, so fewer ends are proven; the answers are to be as good as without.
#[test]
fn nearly_all_tiny_problems_with_a_set_are_solved_to_the_true_optimum() {
    let (mut solvable, mut made_all, mut optimal) = (0, 0, 0);
    let mut open = Vec::new();
    for case in 0..300 {
        let of = [Of::Boards, Of::Sheets, Of::Sticks, Of::All][case as usize % 4];
        let problem = matched(case, of);
        let truth = Truth::of(&problem);
        let demand: Vec<u32> = problem.items.iter().map(|item| item.demand).collect();
        let Some(optimum) = truth.optimum(&demand) else { continue };
        solvable += 1;
        let outcome = run(&problem, 6_000, 1, 1);
        let apart = i128::from(outcome.cost) * truth.denominator - optimum;
        let whole = outcome.made == demand;
        let same = whole && apart <= i128::from(CENT.max(outcome.cost / 2000)) * truth.denominator;
        assert!(same || outcome.why != Why::Proven || !whole, "case {case}: {optimum} is best");
        if !same {
            open.push(format!(
                "{case} {of:?}: {:?} at {}, best {}",
                outcome.made,
                outcome.cost,
                optimum / truth.denominator
            ));
        }
        made_all += u32::from(whole);
        optimal += u32::from(same);
    }
    assert!(solvable >= 100);
    assert!(
        made_all * 100 >= solvable * 95 && optimal * 100 >= solvable * 90,
        "{made_all}, {optimal} of {solvable}; {open:#?}"
    );
}
