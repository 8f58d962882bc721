//! A fault once fixed: a sheet offered when nothing of it was wanted any more listed one size a tick, until memory ran out.

use flitchwork::nesting::layout::SheetNode;
use flitchwork::nesting::sheet::{Scratch, SheetEngine};
use flitchwork::nesting::{Kerfs, Kind, SheetPiece, SheetStock, Stock};

/// Ticks of an inch.
const INCH: i64 = 2_032_000;

fn a_full_sheet() -> Stock {
    let piece = |item, length, width| SheetPiece { item, length: length * INCH, width: width * INCH, turned: false };
    let sheet = SheetStock {
        length: 96 * INCH,
        width: 48 * INCH,
        trim: INCH / 4,
        kerf: Kerfs { cross: INCH / 8, rip: INCH / 8 },
        stages: 3,
        first: None,
        pieces: vec![piece(0, 40, 18), piece(1, 20, 10)],
    };
    Stock { count: 1, cost: 92_000_000, credit: None, kind: Kind::Sheet(sheet), together: vec![], wider: None }
}

/// Pieces in a tree.
fn pieces(node: &SheetNode) -> usize {
    match node {
        SheetNode::Piece { .. } => 1,
        SheetNode::Remnant { .. } => 0,
        SheetNode::Split { children, .. } => children.iter().map(pieces).sum(),
    }
}

#[test]
fn a_sheet_that_holds_no_wanted_piece_is_skipped_at_once() {
    let engine = SheetEngine::new(&a_full_sheet()).expect("the stock is a sheet");
    let mut scratch = Scratch::default();
    let start = std::time::Instant::now();
    for effort in 0..=2 {
        let none = engine.best_within(&[5_000_000, 2_000_000], &[0, 0], &mut scratch, effort);
        assert_eq!((pieces(&none.layout), none.value, none.counts.iter().sum::<u32>()), (0, 0, 0));
        let worthless = engine.best_within(&[0, 0], &[4, 4], &mut scratch, effort);
        assert_eq!((worthless.value, worthless.upper), (0, 0));
    }
    // One size a tick took gigabytes and many seconds; a machine under load takes milliseconds.
    assert!(start.elapsed().as_secs() < 5, "took {:?}", start.elapsed());
    let some = engine.best_within(&[5_000_000, 2_000_000], &[1, 0], &mut scratch, 1);
    assert_eq!((pieces(&some.layout), some.value), (1, 5_000_000));
}
