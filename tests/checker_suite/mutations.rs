//! Random changes of a lawful plan: the checker never panics, and a blank that changed never goes unseen.

use crate::workshop::workshop;
use flitchwork::measure::Length;
use flitchwork::plan::check::check;
use flitchwork::plan::{Node, Role, ShopPlan};
use proptest::prelude::*;

/// Every length of the tree below `node`: of all nodes, or of blanks alone.
fn lengths<'a>(node: &'a mut Node<Length>, blanks_only: bool, all: &mut Vec<&'a mut Length>) {
    if !blanks_only || node.role == Some(Role::Blank) {
        all.extend([&mut node.x, &mut node.y, &mut node.length, &mut node.width]);
        if let Some(net) = &mut node.net {
            all.extend([&mut net.x, &mut net.y, &mut net.length, &mut net.width]);
        }
    }
    for child in &mut node.children {
        lengths(child, blanks_only, all);
    }
}

/// Every length of the plan's trees, cuts, offcuts and glue-ups.
fn all_lengths(plan: &mut ShopPlan) -> Vec<&mut Length> {
    let mut all = Vec::new();
    for entry in &mut plan.stock {
        lengths(&mut entry.tree, false, &mut all);
    }
    for cut in &mut plan.cuts {
        all.extend([&mut cut.at, &mut cut.to, &mut cut.from_edge, &mut cut.to_edge]);
        all.extend(cut.setting.as_mut());
    }
    for row in &mut plan.offcuts {
        all.extend([&mut row.x, &mut row.y, &mut row.length, &mut row.width]);
    }
    for member in plan.glueups.iter_mut().flat_map(|entry| &mut entry.members) {
        all.extend([&mut member.x, &mut member.y]);
        all.extend(member.net_width.as_mut());
    }
    all
}

fn any_change() -> impl Strategy<Value = i64> {
    prop_oneof![
        Just(1),
        Just(-1),
        -10_000_000_i64..10_000_000,
        -1_000_000_000_000_i64..1_000_000_000_000,
        Just(i64::MAX / 4),
        Just(i64::MIN / 4),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_change_of_lengths_makes_the_checker_panic(
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any_change()), 1..6),
    ) {
        let (job, pile, mut plan) = workshop();
        for (which, change) in changes {
            let mut all = all_lengths(&mut plan);
            let which = which.index(all.len());
            let length = &mut all[which];
            **length = Length::from_ticks(length.ticks().saturating_add(change));
        }
        for violation in check(&job, &pile, &plan) {
            prop_assert!(violation.to_string().contains(violation.rule.code()));
        }
    }

    #[test]
    fn no_change_of_the_pile_or_the_shop_makes_the_checker_panic(
        thickness in 0_i64..10_000_000, warp in 0_i64..100_000_000, step in 0_i64..3_000_000, quantity in 0_u32..4,
        height in 0_i64..20_000_000, layers in 0_u32..9,
    ) {
        let (mut job, mut pile, plan) = workshop();
        pile.boards[0].thickness = Length::from_ticks(thickness);
        pile.boards[0].warp.crook = Length::from_ticks(warp);
        pile.boards[2].warp.twist = Length::from_ticks(warp);
        pile.boards[1].quantity = quantity;
        job.shop.step.rip = Length::from_ticks(step);
        job.shop.machine.resaw_height = Length::from_ticks(height);
        job.shop.glue.max_layers = layers;
        let violations = check(&job, &pile, &plan);
        prop_assert_eq!(violations.iter().any(|v| v.rule.code() == "stock-copy"), quantity == 0);
    }

    #[test]
    fn a_blank_that_moved_or_grew_by_any_amount_is_seen(
        which in any::<prop::sample::Index>(),
        change in prop_oneof![-10_000_000_i64..0, 1_i64..10_000_000],
    ) {
        let (job, pile, mut plan) = workshop();
        let mut all = Vec::new();
        for entry in &mut plan.stock {
            lengths(&mut entry.tree, true, &mut all);
        }
        let which = which.index(all.len());
            let length = &mut all[which];
        **length = Length::from_ticks(length.ticks() + change);
        prop_assert!(!check(&job, &pile, &plan).is_empty());
    }
}
