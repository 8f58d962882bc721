//! Why a part cannot be made from this pile, in the maker's words and with figures, and what to buy.
//!
//! Asks the rules of this folder one after the other (species, rings, thickness, width, clear length) and reports the
//! first that every piece of stock fails, naming the one that comes nearest. Searches nothing.

use crate::job::{Job, Match, MatchRule, MatchScope, Panel, Part, Wanted};
use crate::measure::{Length, Units};
use crate::milling::blank::{self, Piece};
use crate::milling::board;
use crate::milling::edges::Edges;
use crate::milling::faces::{self, Shown};
use crate::milling::flatten::Flattening;
use crate::milling::nearest::{Nearest, nearest};
use crate::milling::{flat_stock, material_is, rings_accepted, species_is};
use crate::pile::{Board, Face, Pile, Sheet, Stick};

/// Why a part is short, and what would cure it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason {
    pub why: String,
    pub buy: String,
}

/// The reason that part `p` of the job is short of `missing` copies. `members` is what a copy is built up from, as it is
/// given to [`super::mill`].
pub fn explain(job: &Job, pile: &Pile, p: usize, members: u32, missing: u32) -> Reason {
    let part = &job.parts[p];
    let explainer = Explainer { job, pile, part, missing };
    let reason = explainer.unmatched(members);
    let bound = part.matching.as_ref().and_then(|m| Some((m, nearest(job, pile, p, m, members)?)));
    match bound {
        Some((matching, nearest)) if nearest.pieces > 1 => explainer.matched(matching, &nearest, reason),
        _ => reason,
    }
}

struct Explainer<'a> {
    job: &'a Job,
    pile: &'a Pile,
    part: &'a Part,
    missing: u32,
}

impl Explainer<'_> {
    fn show(&self, length: Length) -> String {
        let units = self.job.units;
        let text = length.show(units, Length::from_inch_fraction(1, 64));
        match units {
            Units::Inches => format!("{} in", text.replace('"', "")),
            Units::Millimetres => text,
        }
    }

    fn describe(&self, board: &Board) -> String {
        match board.nominal {
            Some(n) => format!("{} {}/{}", board.species, n.numerator, n.denominator),
            None => format!("{} {} thick", board.species, self.show(board.thickness)),
        }
    }

    /// The reason without the match that the part may be in.
    fn unmatched(&self, members: u32) -> Reason {
        match (&self.part.stock, &self.part.panel) {
            (Wanted::Species(species), Some(panel)) => self.panel(species, panel, members),
            (Wanted::Species(species), None) => {
                let pieces = blank::lumber_pieces(self.part, members, &self.job.shop);
                self.lumber(species, &pieces, &self.buy_lumber(species, &pieces))
            }
            (Wanted::Material(material), _) => self.flat(material),
        }
    }

    /// What its match asks for, which piece of stock comes nearest, and what each piece needs by itself.
    fn matched(&self, matching: &Match, nearest: &Nearest, alone: Reason) -> Reason {
        let all = match matching.scope {
            MatchScope::Group => format!("all its {} pieces", nearest.pieces),
            MatchScope::Copy => format!("the {} pieces of each copy", nearest.pieces),
        };
        let lie = match matching.rule {
            MatchRule::Board => "from one board or sheet",
            MatchRule::Run => "end to end in one strip",
            MatchRule::Side => "side by side in one section",
        };
        let size = nearest.block.map_or(String::new(), |(length, width)| {
            format!(", {} long and {} wide together", self.show(length), self.show(width))
        });
        let near = match &nearest.best {
            None => "nothing in the pile gives any of them so".to_owned(),
            Some((id, held)) if *held >= nearest.pieces => {
                format!("{id} could, but not beside the other parts")
            }
            Some((id, held)) => format!("the nearest, {id}, gives {held} of them so"),
        };
        let (group, why) = (&matching.group, &alone.why);
        let buy = if matching.rule == MatchRule::Side && self.only_sticks() {
            "no stick will do, on one nothing lies beside another piece; match these by `run` or `board`".to_owned()
        } else {
            format!("{}, for a match {lie}{size}", alone.buy)
        };
        Reason { why: format!("match \"{group}\" asks for {all} {lie}{size}; {near}. Each by itself {why}"), buy }
    }

    /// The part could be cut from sticks of the pile, and from no sheet of it.
    fn only_sticks(&self) -> bool {
        let (pile, part) = (self.pile, self.part);
        let sheet = |s: &Sheet| material_is(part, &s.material) && flat_stock::sheet_is_as_thick(s, part);
        let stick = |s: &Stick| material_is(part, &s.material) && flat_stock::stick_is_the_section(s, part);
        pile.sticks.iter().any(stick) && !pile.sheets.iter().any(sheet)
    }

    /// A panel is short when not even its narrowest stave can be had, or not enough of them.
    fn panel(&self, species: &str, panel: &Panel, staves: u32) -> Reason {
        let shop = &self.job.shop;
        let piece = match blank::equal_stave(self.part, panel, staves, shop) {
            Some(stave) if panel.equal => stave,
            _ => blank::narrowest_stave(self.part, panel, shop),
        };
        let needed = blank::panel_needs(self.part, shop);
        let from = panel.max_boards.map_or(String::new(), |most| {
            format!(
                ", each copy from {}",
                if most == 1 { "one board".to_owned() } else { format!("at most {most} boards") }
            )
        });
        let buy = format!(
            "{}; the staves of one copy add up to {} net{from}",
            self.buy_lumber(species, std::slice::from_ref(&piece)),
            self.show(needed),
        );
        let reason = self.lumber(species, std::slice::from_ref(&piece), &buy);
        let why = format!(
            "{}; this is for one of its staves, {} to {} wide, which add up to {}{from}",
            reason.why,
            self.show(panel.stave_min),
            self.show(panel.stave_max),
            self.show(needed),
        );
        Reason { why, buy }
    }

    fn lumber(&self, species: &str, pieces: &[Piece], buy: &str) -> Reason {
        let piece = &pieces[0];
        let why = |why: String| Reason { why, buy: buy.to_owned() };
        let of_species: Vec<&Board> = self.pile.boards.iter().filter(|b| species_is(self.part, &b.species)).collect();
        if of_species.is_empty() {
            return why(format!("there is no {species} in the pile"));
        }
        let suits: Vec<&Board> = of_species.into_iter().filter(|b| rings_accepted(b, self.part)).collect();
        if suits.is_empty() {
            return why(format!("asks for its own kind of rings, and no {species} board states them"));
        }
        if let Some(text) = self.too_thin(&suits, piece) {
            return why(text);
        }
        if let Some(text) = self.too_narrow(&suits, piece) {
            return why(text);
        }
        if let Some(text) = self.no_clear_run(&suits, pieces) {
            return why(text);
        }
        let able = suits.iter().filter(|b| pieces.iter().all(|p| self.longest_run(b, p) >= p.net_length)).count();
        why(format!(
            "needs {} clear, {} wide; {able} {species} {} could give it, but not all {} copies beside the other parts",
            self.show(piece.net_length),
            self.show(piece.net_width),
            if able == 1 { "board" } else { "boards" },
            self.part.qty,
        ))
    }

    /// Greatest thickness the board planes to in a section just long enough for the piece.
    fn planes_to(&self, board: &Board, piece: &Piece) -> Option<Length> {
        let shop = &self.job.shop;
        if board::used_as_it_is(board, piece) {
            return Some(piece.thickness);
        }
        let whole =
            shop.machine.rip_first == crate::job::shop::RipFirst::Wide && board.width <= shop.machine.jointer_width;
        let (flattened, widest) = if whole {
            (board.width, shop.machine.planer_width)
        } else {
            (piece.width, shop.machine.planer_width.min(shop.machine.jointer_width))
        };
        if flattened > widest {
            return None;
        }
        let section = (piece.length + shop.trim.snipe * 2).max(shop.machine.min_length).min(board.length);
        let flattening = Flattening::new(&board.warp, board.length, board.width, &shop.warp.factor);
        // Flattening loses thickness evenly in headroom, so the greatest thickness is found by bisection on it.
        let most = board::headroom(board, &Piece { thickness: Length::ZERO, ..piece.clone() }, shop);
        let fits = |t: i64| flattening.fits(most - Length::from_ticks(t), section.ticks(), flattened.ticks());
        if !fits(0) {
            return None;
        }
        let (mut low, mut high) = (0, most.ticks() + 1);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if fits(middle) { low = middle } else { high = middle }
        }
        Some(Length::from_ticks(low))
    }

    fn too_thin(&self, boards: &[&Board], piece: &Piece) -> Option<String> {
        let best = boards.iter().map(|b| (self.planes_to(b, piece), *b)).max_by_key(|(t, _)| *t)?;
        let needs = self.show(piece.thickness);
        match best {
            (None, board) => Some(format!(
                "needs {needs} planed, in a piece {} long; no {} board can be flattened for it on this shop's machines",
                self.show(piece.length),
                board.species,
            )),
            (Some(thickness), board) if thickness < piece.thickness => Some(format!(
                "needs {needs} planed, in a piece {} long; the thickest, {} {}, planes to {}",
                self.show(piece.length),
                self.describe(board),
                board.id,
                self.show(thickness),
            )),
            _ => None,
        }
    }

    /// Boards thick enough for the piece.
    fn thick_enough<'b>(&self, boards: &[&'b Board], piece: &Piece) -> Vec<&'b Board> {
        boards.iter().filter(|b| self.planes_to(b, piece).is_some_and(|t| t >= piece.thickness)).copied().collect()
    }

    fn zone(&self, board: &Board, piece: &Piece) -> (i64, i64) {
        let section = (piece.length + self.job.shop.trim.snipe * 2).min(board.length);
        Edges::new(board, &self.job.shop).zone(section.ticks())
    }

    fn too_narrow(&self, boards: &[&Board], piece: &Piece) -> Option<String> {
        let across = |b: &Board| {
            let (low, high) = self.zone(b, piece);
            Length::from_ticks(high - low)
        };
        let thick = self.thick_enough(boards, piece);
        let widest = thick.iter().max_by_key(|b| across(b))?;
        (across(widest) < piece.width).then(|| {
            format!(
                "needs a blank {} wide; the widest board thick enough, {} {}, has {} between its clean edges",
                self.show(piece.width),
                self.describe(widest),
                widest.id,
                self.show(across(widest)),
            )
        })
    }

    fn no_clear_run(&self, boards: &[&Board], pieces: &[Piece]) -> Option<String> {
        for piece in pieces {
            let thick = self.thick_enough(boards, piece);
            let best = thick.iter().max_by_key(|b| self.longest_run(b, piece))?;
            let run = self.longest_run(best, piece);
            if run < piece.net_length {
                return Some(format!(
                    "needs {} clear, {} wide; the longest clear run of that width in {} is {}, on {}",
                    self.show(piece.net_length),
                    self.show(piece.net_width),
                    self.describe(best),
                    self.show(run),
                    best.id,
                ));
            }
        }
        None
    }

    /// The longest net rectangle of the piece's width that the board gives, snipe and trims taken off.
    fn longest_run(&self, board: &Board, piece: &Piece) -> Length {
        let shop = &self.job.shop;
        let (low, high) = self.zone(board, piece);
        let (dx, dy) = piece.net_offset();
        let snipe = if board::used_as_it_is(board, piece) { 0 } else { shop.trim.snipe.ticks() };
        let start = shop.trim.board_end.ticks() + snipe + dx;
        let end =
            (board.length - shop.trim.board_end).ticks() - snipe - ((piece.length - piece.net_length).ticks() - dx);
        let mut best = 0;
        for way in faces::options(board, piece.asked, Shown::Board(Face::Top), Shown::Board(Face::Bottom)) {
            let grown: Vec<(i64, i64, i64, i64)> = way.keep_out.iter().map(|&i| grown(board, i, self.job)).collect();
            let bases = std::iter::once(low).chain(grown.iter().map(|r| (r.3 - dy).max(low)));
            for y in bases.filter(|y| y + piece.width.ticks() <= high) {
                best = best.max(free_run(&grown, y + dy, piece.net_width.ticks(), start, end));
            }
        }
        Length::from_ticks(best)
    }

    fn buy_lumber(&self, species: &str, pieces: &[Piece]) -> String {
        let shop = &self.job.shop;
        let piece = &pieces[0];
        let each: u32 = pieces.iter().map(|p| p.per_copy).sum();
        let needed = piece.thickness + shop.allowance.face * 2;
        let length = piece.length + shop.trim.board_end * 2 + shop.trim.snipe * 2;
        let width = piece.width + shop.trim.edge + shop.trim.far_edge;
        let stock = match crate::trade::thickness::all().iter().find(|t| t.kiln_dried >= needed) {
            Some(t) => format!("{}/{}", t.numerator, t.denominator),
            None => format!("{} thick", self.show(needed)),
        };
        format!(
            "{} {species} {stock}, flat, at least {} wide and {} long, with {} x {} clear, for each",
            plural(each * self.missing, "piece of"),
            self.show(width.round_up_to(shop.print.rough)),
            self.show(length.round_up_to(shop.print.rough)),
            self.show(piece.net_length),
            self.show(piece.net_width),
        )
    }

    fn flat(&self, material: &str) -> Reason {
        let (pile, part, shop) = (self.pile, self.part, &self.job.shop);
        let size =
            format!("{} x {} x {}", self.show(part.thickness), self.show(part.width), self.show(part.full_length()));
        let buy = format!("{} {material} that holds {size} with its trims", plural(self.missing, "more piece of"));
        let why = |why: String| Reason { why, buy: buy.clone() };
        let sheets: Vec<_> = pile.sheets.iter().filter(|s| material_is(part, &s.material)).collect();
        let sticks: Vec<_> = pile.sticks.iter().filter(|s| material_is(part, &s.material)).collect();
        if sheets.is_empty() && sticks.is_empty() {
            return why(format!("there is no {material} in the pile"));
        }
        let thick: Vec<_> = sheets.iter().filter(|s| flat_stock::sheet_is_as_thick(s, part)).collect();
        let alike: Vec<_> = sticks.iter().filter(|s| flat_stock::stick_is_the_section(s, part)).collect();
        if thick.is_empty() && alike.is_empty() {
            let has: Vec<String> = sheets
                .iter()
                .map(|s| format!("{} is {} thick", s.id, self.show(s.thickness)))
                .chain(
                    sticks.iter().map(|s| format!("{} is {} x {}", s.id, self.show(s.thickness), self.show(s.width))),
                )
                .collect();
            return why(format!("needs {size}; of the {material}, {}", has.join(", ")));
        }
        let room = thick
            .iter()
            .map(|s| (s.length - shop.trim.sheet * 2, s.width - shop.trim.sheet * 2))
            .any(|(l, w)| (part.full_length() <= l && part.width <= w) || (part.full_length() <= w && part.width <= l));
        let long = alike.iter().any(|s| part.full_length() <= s.length - shop.trim.stick * 2);
        if !room && !long {
            return why(format!("needs {size}; no {material} in the pile is that large inside its trims"));
        }
        why(format!(
            "needs {size}; the {material} at hand could give it, but not all {} copies beside the other parts, in the grain asked",
            part.qty
        ))
    }
}

/// A defect's rectangle grown by the shop's margins: (x0, x1, y0, y1) in ticks.
fn grown(board: &Board, defect: usize, job: &Job) -> (i64, i64, i64, i64) {
    let d = &board.defects[defect];
    let (along, across) = (job.shop.defect.margin_length, job.shop.defect.margin_width);
    ((d.x - along).ticks(), (d.x + d.length + along).ticks(), (d.y - across).ticks(), (d.y + d.width + across).ticks())
}

/// The longest run of [start, end] free of the rectangles that meet y..y + width.
fn free_run(rects: &[(i64, i64, i64, i64)], y: i64, width: i64, start: i64, end: i64) -> i64 {
    let mut in_the_way: Vec<(i64, i64)> =
        rects.iter().filter(|r| r.2 < y + width && y < r.3).map(|r| (r.0, r.1)).collect();
    in_the_way.sort_unstable();
    let (mut at, mut best) = (start, 0);
    for (from, to) in in_the_way {
        best = best.max(from.min(end) - at);
        at = at.max(to);
    }
    best.max(end - at)
}

fn plural(n: u32, what: &str) -> String {
    match what.strip_prefix("more ") {
        Some(rest) if n == 1 => format!("1 more {rest}"),
        Some(rest) => format!("{n} more {}", rest.replacen("piece", "pieces", 1)),
        None if n == 1 => format!("1 {what}"),
        None => format!("{n} {}", what.replacen("piece", "pieces", 1)),
    }
}
