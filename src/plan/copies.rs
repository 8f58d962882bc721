//! Which copy of its part each blank becomes, which layer of a lamination or stave of a panel, and what is glued to what.
//!
//! Copies are numbered from 1 in the order the stock is pulled, each piece of stock read in ascending x, then y, resawn
//! leaves from the top face down. Layers are assigned so that a copy's layers come from one piece of stock where that can
//! be; of a part whose outer layers are items of their own, they lie outside, the better face outwards. Staves lie in the
//! order they come off the stock, so that those of one board are neighbours; which of their faces is up is `hearts`'
//! business. Nothing is moved or recut here.

use super::build::BuildError;
use super::case::{Case, PieceKind, Use};
use super::glue::{self, Glued};
use super::hearts::{self, Turned};
use super::tree::{Grown, each_blank_mut, nodes_of};
use super::{GlueKind, GlueUp, Leaf, Length, Member, Node, Rectangle, Role};
use crate::milling::StaveCount;
use crate::pile::{Board, DefectFace, Face};

/// One piece made: a blank, or one leaf of a resawn one.
struct Made {
    /// Index of its stock among the uses.
    used: usize,
    item: usize,
    /// Faces without a defect: top, bottom.
    clear: [bool; 2],
    /// Faces with sound defects only.
    sound: [bool; 2],
    /// The blank's corner.
    x: Length,
    y: Length,
    net_width: Option<Length>,
}

impl Made {
    /// The face to turn outwards: a clear one, or else the one that leaves a sound face for the glue.
    fn face(&self) -> Face {
        if self.clear[0] || (!self.clear[1] && self.sound[1]) { Face::Top } else { Face::Bottom }
    }
}

#[derive(Clone, Copy, Default)]
struct Label {
    copy: u32,
    layer: Option<u32>,
    stave: Option<u32>,
}

/// Labels every blank of `grown` (parallel to `uses`) and returns the glue-ups, by part and copy.
pub(super) fn label(case: &Case, uses: &[Use], grown: &mut [Grown]) -> Result<Vec<GlueUp<Length>>, BuildError> {
    let pieces = pieces(case, uses, grown);
    count(case, &pieces)?;
    let mut labels = vec![Label::default(); pieces.len()];
    let mut glueups = Vec::new();
    for part in 0..case.job.parts.len() {
        let glued = glue_kind(case, part);
        for (copy, members) in (1..).zip(&copies_of_part(case, part, &pieces)) {
            for (number, &piece) in (1..).zip(members) {
                let of = |kind: GlueKind| (glued == Some(kind)).then_some(number);
                labels[piece] = Label { copy, layer: of(GlueKind::Lamination), stave: of(GlueKind::Panel) };
            }
            if let Some(kind) = glued {
                glueups.push(glue_up(case, uses, part, copy, kind, members, &pieces));
            }
        }
    }
    write(case, uses, grown, &mut labels.iter());
    Ok(glueups)
}

/// How the copies of a part are glued up, if they are.
fn glue_kind(case: &Case, part: usize) -> Option<GlueKind> {
    let milled = case.milled.items.iter().find(|milled| milled.part == part)?;
    match (milled.staves, milled.layers) {
        (Some(_), _) => Some(GlueKind::Panel),
        (None, 2..) => Some(GlueKind::Lamination),
        (None, _) => None,
    }
}

/// The copies of a part in the order of their first pieces, each its pieces in the order they are glued up.
fn copies_of_part(case: &Case, part: usize, pieces: &[Made]) -> Vec<Vec<usize>> {
    let mut copies = Vec::new();
    for kinds in case.kinds_of(part) {
        let of_product: Vec<usize> =
            (0..pieces.len()).filter(|&piece| kinds.iter().any(|kind| kind.item == pieces[piece].item)).collect();
        let by_width = |kind: &PieceKind| matches!(case.milled.items[kind.item].staves, Some(StaveCount::Width(_)));
        match kinds.first() {
            Some(only) if by_width(only) && !of_product.is_empty() => copies.push(of_product),
            _ => copies.extend(copies_of(&kinds, &of_product, pieces)),
        }
    }
    copies.sort_by_key(|copy| copy.iter().copied().min());
    copies
}

/// Every piece made, in the order of pulling, reading, and leaves.
fn pieces(case: &Case, uses: &[Use], grown: &[Grown]) -> Vec<Made> {
    let mut pieces = Vec::new();
    for (index, (used, grown)) in uses.iter().zip(grown).enumerate() {
        for (blank, &cutting) in nodes_of(&grown.tree, Role::Blank).into_iter().zip(&grown.cuttings) {
            let leaves = &case.cutting(used.class, cutting).leaves;
            for (leaf, &item) in leaves.iter().enumerate() {
                let outer = [leaf == 0, leaf + 1 == leaves.len()];
                let board = case.board(used.source);
                let clear = good_faces(case, board, blank, outer, false);
                let sound = good_faces(case, board, blank, outer, true);
                let net_width = blank.net.map(|net| net.width);
                pieces.push(Made { used: index, item, clear, sound, x: blank.x, y: blank.y, net_width });
            }
        }
    }
    pieces
}

/// Which faces of a leaf show no defect (no unsound one) in its net rectangle; `outer`: is its top, its bottom a face of
/// the board.
fn good_faces(
    case: &Case,
    board: Option<&Board>,
    blank: &Node<Length>,
    outer: [bool; 2],
    sound_will_do: bool,
) -> [bool; 2] {
    let (Some(board), Some(net)) = (board, &blank.net) else {
        return [true, true];
    };
    let margins = &case.job.shop.defect;
    let mut good = [true, true];
    for defect in board.defects.iter().filter(|d| !(sound_will_do && d.sound)) {
        let grown = Rectangle {
            x: defect.x - margins.margin_length,
            y: defect.y - margins.margin_width,
            length: defect.length + margins.margin_length * 2,
            width: defect.width + margins.margin_width * 2,
        };
        if meets(&grown, net) {
            let through = defect.face == DefectFace::Through;
            good[0] &= !(through || outer[0] && defect.face == DefectFace::Top);
            good[1] &= !(through || outer[1] && defect.face == DefectFace::Bottom);
        }
    }
    good
}

/// True when the interiors meet.
pub(super) fn meets(a: &Rectangle<Length>, b: &Rectangle<Length>) -> bool {
    a.x < b.x + b.length && b.x < a.x + a.length && a.y < b.y + b.width && b.y < a.y + a.width
}

/// The layouts yield what the outcome says they yield, and whole copies of every part: a panel's copy may be wider than
/// needed, by less than a stave.
fn count(case: &Case, pieces: &[Made]) -> Result<(), BuildError> {
    let mut found = vec![0u32; case.milled.items.len()];
    for piece in pieces {
        found[piece.item] += case.counts_as(piece.item, piece.net_width);
    }
    let copies = case.milled.products_made(&case.outcome.made);
    for (item, counted) in case.milled.problem.items.iter().enumerate() {
        let (found, said) = (found[item], case.outcome.made[item]);
        let part = case.part_id(item);
        if found != said {
            return Err(BuildError::Miscounted { part: part.to_owned(), said, found });
        }
        let copies = copies[counted.product];
        let excess = if copies > 0 { counted.excess } else { 0 };
        if found > copies * counted.per_copy + excess {
            return Err(BuildError::LooseLayers { part: part.to_owned(), pieces: found, copies });
        }
    }
    Ok(())
}

/// The copies of a product whose pieces are counted, each the pieces of its layers from the first to the last.
fn copies_of(kinds: &[PieceKind], of_part: &[usize], pieces: &[Made]) -> Vec<Vec<usize>> {
    let mut copies = Vec::new();
    let mut pool = Vec::new();
    for of_stock in of_part.chunk_by(|&a, &b| pieces[a].used == pieces[b].used) {
        pool.extend(whole_copies(kinds, of_stock, pieces, &mut copies));
    }
    whole_copies(kinds, &pool, pieces, &mut copies);
    copies
}

/// Takes as many whole copies as `available` holds into `copies`; what is left over, in order.
fn whole_copies(kinds: &[PieceKind], available: &[usize], pieces: &[Made], copies: &mut Vec<Vec<usize>>) -> Vec<usize> {
    let of_kind = |kind: &PieceKind| -> Vec<usize> {
        available.iter().copied().filter(|&piece| pieces[piece].item == kind.item).collect()
    };
    let lists: Vec<(usize, Vec<usize>)> = kinds.iter().map(|kind| (kind.per_copy, of_kind(kind))).collect();
    let whole = lists.iter().map(|(per_copy, list)| list.len() / per_copy).min().unwrap_or(0);
    for at in 0..whole {
        let taken: Vec<&[usize]> =
            lists.iter().map(|(per_copy, list)| &list[at * per_copy..(at + 1) * per_copy]).collect();
        copies.push(stacked(&taken));
    }
    let mut left: Vec<usize> = lists.iter().flat_map(|(per_copy, list)| &list[whole * per_copy..]).copied().collect();
    left.sort_unstable();
    left
}

/// The layers of a copy from the first to the last: the pieces of its first kind outside, all others between.
fn stacked(taken: &[&[usize]]) -> Vec<usize> {
    let (outer, inner) = match taken {
        [all] => return all.to_vec(),
        [outer, inner @ ..] => (*outer, inner.concat()),
        [] => return Vec::new(),
    };
    let (first, last) = outer.split_at(outer.len().min(1));
    [first, &inner, last].concat()
}

fn glue_up(
    case: &Case,
    uses: &[Use],
    part: usize,
    copy: u32,
    kind: GlueKind,
    members: &[usize],
    pieces: &[Made],
) -> GlueUp<Length> {
    let panel = kind == GlueKind::Panel;
    let faces: Vec<Option<Face>> = if panel {
        let turned = members.iter().map(|&piece| {
            let made = &pieces[piece];
            let heart = case.board(uses[made.used].source).and_then(|board| board.heart);
            Turned { clear: made.clear, better: made.face(), heart }
        });
        hearts::faces_up(&turned.collect::<Vec<_>>()).into_iter().map(Some).collect()
    } else {
        let outer = |at: usize| at == 0 || at + 1 == members.len();
        members.iter().enumerate().map(|(at, &piece)| outer(at).then(|| pieces[piece].face())).collect()
    };
    let member = |((number, &piece), face_up): ((u32, &usize), Option<Face>)| {
        let made = &pieces[piece];
        let used = &uses[made.used];
        Member {
            stock: case.piece(used.source).id.to_owned(),
            stock_copy: used.copy,
            x: made.x,
            y: made.y,
            stave: panel.then_some(number),
            layer: (!panel).then_some(number),
            net_width: made.net_width.filter(|_| panel),
            face_up,
        }
    };
    let glued: Vec<Glued> = members
        .iter()
        .map(|&piece| {
            let made = &pieces[piece];
            Glued {
                width: made.net_width.unwrap_or_default(),
                thickness: case.milled.items[made.item].thickness,
                board: case.board(uses[made.used].source),
            }
        })
        .collect();
    let sheet = Some(glue::sheet(case, &case.job.parts[part], kind, &glued));
    let members: Vec<Member<Length>> = (1..).zip(members).zip(faces).map(member).collect();
    GlueUp { part: case.job.parts[part].id.clone(), copy, kind, members, sheet }
}

/// Writes the labels, in the order of `pieces`, into the trees.
fn write(case: &Case, uses: &[Use], grown: &mut [Grown], labels: &mut dyn Iterator<Item = &Label>) {
    for (used, grown) in uses.iter().zip(grown) {
        let mut cuttings = grown.cuttings.iter();
        each_blank_mut(&mut grown.tree, &mut |blank| {
            let cutting = *cuttings.next().expect("every blank has its cutting");
            let leaves = &case.cutting(used.class, cutting).leaves;
            let leaves: Vec<Leaf<Length>> = leaves
                .iter()
                .map(|&item| {
                    let label = labels.next().expect("every piece has its label");
                    Leaf {
                        part: case.part_id(item).to_owned(),
                        copy: label.copy,
                        layer: label.layer,
                        stave: label.stave,
                        thickness: case.milled.items[item].thickness,
                    }
                })
                .collect();
            write_blank(blank, leaves);
        });
    }
}

fn write_blank(blank: &mut Node<Length>, mut leaves: Vec<Leaf<Length>>) {
    if leaves.len() > 1 {
        blank.leaves = leaves;
        return;
    }
    if let Some(only) = leaves.pop() {
        blank.thickness = only.layer.or(only.stave).map(|_| only.thickness);
        blank.part = Some(only.part);
        blank.copy = Some(only.copy);
        (blank.layer, blank.stave) = (only.layer, only.stave);
    }
}
