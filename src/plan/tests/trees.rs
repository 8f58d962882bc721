//! The form of the published trees.

use super::super::tree::nodes_of;
use super::super::{CutKind, Length, Node, Role};
use super::bench::{len, one_rail, small_cabinet, t};
use crate::job::Wanted;
use crate::nesting::{Direction, SheetNode};

fn rectangle(node: &Node<Length>) -> [Length; 4] {
    [node.x, node.y, node.length, node.width]
}

#[test]
fn the_example_of_the_contract_comes_out_as_it_is_printed() {
    let plan = one_rail().plan();
    let tree = &plan.stock[0].tree;
    assert_eq!((rectangle(tree), tree.role, tree.cut), ([0.0, 0.0, 98.5, 7.25].map(len), None, Some(CutKind::Cross)));
    let [section, offcut] = tree.children.as_slice() else { panic!("a section and an offcut") };
    assert_eq!((rectangle(section), section.role), ([1.0, 0.0, 46.0, 7.25].map(len), Some(Role::Section)));
    assert_eq!((rectangle(offcut), offcut.role), ([47.125, 0.0, 51.375, 7.25].map(len), Some(Role::Offcut)));
    let strip = &section.children[0];
    assert_eq!((rectangle(strip), strip.cut), ([1.0, 0.1875, 46.0, 3.125].map(len), Some(CutKind::Cross)));
    let blank = &strip.children[0];
    assert_eq!((rectangle(blank), blank.role), ([4.0, 0.1875, 24.0, 3.125].map(len), Some(Role::Blank)));
    assert_eq!((blank.part.as_deref(), blank.copy, blank.layer), (Some("rail"), Some(1), None));
    let net = blank.net.expect("a blank has its net rectangle");
    assert_eq!([net.x, net.y, net.length, net.width], [4.25, 0.25, 23.5, 3.0].map(len));
}

#[test]
fn a_blank_narrower_than_its_strip_keeps_its_own_width() {
    let plan = small_cabinet().plan();
    let slat = nodes_of(&plan.stock[0].tree, Role::Blank).into_iter().find(|b| b.part.as_deref() == Some("slat"));
    assert_eq!(slat.map(rectangle), Some([4.0, 3.375, 20.5, 1.625].map(len)));
}

#[test]
fn a_sheet_node_without_role_spans_the_sheet_from_edge_to_edge() {
    let plan = small_cabinet().plan();
    let sheet = plan.stock.iter().find(|piece| piece.id == "PLY").expect("the sheet is used");
    assert_eq!(sheet.tree.cut, Some(CutKind::Rip));
    let [row, rest] = sheet.tree.children.as_slice() else { panic!("a row and a remnant") };
    assert_eq!((rectangle(row), row.role, row.cut), ([0.0, 0.25, 96.0, 18.0].map(len), None, Some(CutKind::Cross)));
    assert_eq!((rectangle(rest), rest.role), ([0.0, 18.375, 96.0, 29.625].map(len), Some(Role::Offcut)));
    assert_eq!(rectangle(&row.children[1]), [40.375, 0.25, 40.0, 18.0].map(len));
}

#[test]
fn splits_that_part_nothing_or_repeat_a_direction_are_folded_away() {
    let mut bench = super::bench::Bench::new();
    let panel = bench.made_of("door", 3, 20.0, 10.0, Wanted::Material("oak ply".to_owned()));
    let class = bench.sheet("PLY", 96.0, 48.0, &[panel]);
    let piece = |x: f64, y: f64| SheetNode::Piece { x: t(x), y: t(y), piece: 0 };
    let split = |y: f64, width: f64, direction, children| SheetNode::Split {
        x: t(0.25),
        y: t(y),
        length: t(95.5),
        width: t(width),
        direction,
        children,
    };
    // Cross [ rip [ cross [ door, door ] ], cross [ door ], rip [] ] is one cross split of three doors.
    let pair = split(0.25, 10.0, Direction::Cross, vec![piece(0.25, 0.25), piece(20.375, 0.25)]);
    let inner = split(0.25, 47.5, Direction::Rip, vec![pair]);
    let lone = split(0.25, 47.5, Direction::Cross, vec![piece(40.5, 0.25)]);
    let empty = split(0.25, 47.5, Direction::Rip, Vec::new());
    bench.cut_sheet(class, split(0.25, 47.5, Direction::Cross, vec![inner, lone, empty]), &[(panel, 3)]);
    let tree = &bench.plan().stock[0].tree;
    assert_eq!((rectangle(tree), tree.cut), ([0.0, 0.0, 96.0, 48.0].map(len), Some(CutKind::Cross)));
    let roles: Vec<_> = tree.children.iter().map(|c| (c.role, c.x)).collect();
    assert_eq!(roles, [0.25, 20.375, 40.5].map(|x| (Some(Role::Blank), len(x))));
}

#[test]
fn a_sheet_with_one_piece_is_a_root_with_one_child() {
    let mut bench = super::bench::Bench::new();
    let panel = bench.made_of("door", 1, 20.0, 10.0, Wanted::Material("oak ply".to_owned()));
    let class = bench.sheet("PLY", 96.0, 48.0, &[panel]);
    bench.cut_sheet(class, SheetNode::Piece { x: t(0.25), y: t(0.25), piece: 0 }, &[(panel, 1)]);
    let plan = bench.plan();
    let tree = &plan.stock[0].tree;
    assert_eq!((tree.role, tree.cut, tree.children.len()), (None, Some(CutKind::Cross), 1));
    // Two ends and two edges to saw.
    assert_eq!(plan.cuts.len(), 4);
}

#[test]
fn a_stick_is_crosscut_into_pieces_of_its_own_section() {
    let plan = small_cabinet().plan();
    let stick = plan.stock.iter().find(|piece| piece.id == "SQ" && piece.copy == 2).expect("two sticks are used");
    let [foot, rest] = stick.tree.children.as_slice() else { panic!("a foot and an end") };
    assert_eq!((rectangle(foot), foot.copy), ([0.25, 0.0, 20.0, 2.0].map(len), Some(4)));
    assert_eq!((rectangle(rest), rest.role), ([20.375, 0.0, 51.625, 2.0].map(len), Some(Role::Offcut)));
}
