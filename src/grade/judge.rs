//! One board: the grades tried on it, best first, until one is reached.

use super::cuttings::{Effort, best};
use super::faces::{clear_field, common_breaches, fas_breaches, reverse, reverse_breaches, say, sound_field};
use super::field::{Field, Least, Rect};
use super::{BoardGrade, Cutting, FaceFound, GradeOptions, KILN_DRIED_MOISTURE, Standing, Trial, Verdict, WayFound};
use crate::measure::{Area, Length, Rational};
use crate::pile::{Board, Face};
use crate::trade::grades::{Demand, FaceGrade, Grade, KILN_DRIED_SCANT, Way, area_of_units, units_of_area};
use crate::trade::{tally, thickness};

/// The grade of a board tallied at a surface measure.
pub(super) fn judge(board: &Board, surface_measure: u32, options: &GradeOptions) -> BoardGrade {
    let bench = Bench { board, surface_measure, options };
    let mut trials = Vec::new();
    for grade in Grade::ALL {
        trials.push(bench.try_grade(grade));
        if trials.last().is_some_and(|trial| trial.verdict == Verdict::Reached) {
            break;
        }
    }
    let grade = trials.last().filter(|trial| trial.verdict == Verdict::Reached).map(|trial| trial.grade);
    let settled = trials.iter().all(|trial| trial.verdict != Verdict::Unsettled);
    BoardGrade { surface_measure, grade, settled, trials }
}

/// How a board stands to a grade.
pub(super) fn standing(board: &Board, surface_measure: u32, grade: Grade, options: &GradeOptions) -> Standing {
    let bench = Bench { board, surface_measure, options };
    match bench.try_grade(grade).verdict {
        Verdict::Refused => return Standing::Below,
        Verdict::Unsettled => return Standing::Unsettled,
        Verdict::Reached => {}
    }
    let mut standing = Standing::Exactly;
    for better in Grade::ALL.into_iter().filter(|better| *better < grade) {
        match bench.try_grade(better).verdict {
            Verdict::Reached => return Standing::Above,
            Verdict::Unsettled => standing = Standing::Unsettled,
            Verdict::Refused => {}
        }
    }
    standing
}

/// How a face is looked at.
#[derive(Clone, Copy)]
struct Look {
    face: Face,
    asked: FaceGrade,
    /// Clear cuttings are sound on the reverse.
    sound_reverse: bool,
    /// Sound cuttings in place of clear ones.
    sound: bool,
    limits: Limits,
}

/// Which limits of a face apply.
#[derive(Clone, Copy)]
enum Limits {
    Fas,
    Common,
    /// The No. 1 Common face of F1F and Selects.
    Reverse,
    None,
}

struct Bench<'a> {
    board: &'a Board,
    surface_measure: u32,
    options: &'a GradeOptions,
}

impl Bench<'_> {
    fn try_grade(&self, grade: Grade) -> Trial {
        let reasons = self.whole_board(grade);
        if !reasons.is_empty() {
            return Trial { grade, verdict: Verdict::Refused, faces: Vec::new(), reasons };
        }
        let clear = |asked, limits| move |face| Look { face, asked, sound_reverse: true, sound: false, limits };
        match grade {
            Grade::Fas => self.poor_face(grade, &clear(FaceGrade::Fas, Limits::Fas)),
            Grade::F1f | Grade::Selects => self.better_and_reverse(grade),
            Grade::No1Common => self.poor_face(grade, &clear(FaceGrade::No1, Limits::Common)),
            Grade::No2aCommon => self.poor_face(grade, &clear(FaceGrade::No2, Limits::None)),
            Grade::No2bCommon => self.both_at_once(grade, FaceGrade::No2),
            Grade::No3aCommon => self.third_grade(&clear(FaceGrade::No3a, Limits::None)),
            Grade::No3bCommon => self.both_at_once(grade, FaceGrade::No3b),
        }
    }

    /// What of the board as a whole rules a grade out.
    fn whole_board(&self, grade: Grade) -> Vec<String> {
        let mut reasons = Vec::new();
        let least = self.narrowest(grade);
        if self.board.width < least {
            reasons.push(format!("{} wide, at least {} is asked", say(self.board.width), say(least)));
        }
        let feet = tally::whole_feet(self.board.length);
        if feet < Rational::from_integer(grade.least_feet().into()) {
            reasons.push(format!("{feet} ft long, at least {} ft is asked", grade.least_feet()));
        }
        if matches!(grade, Grade::Fas | Grade::F1f) {
            reasons.extend(self.warp());
        }
        reasons
    }

    /// The narrowest board of a grade, dried or not.
    fn narrowest(&self, grade: Grade) -> Length {
        let dried = self.board.moisture.is_none_or(|percent| percent <= KILN_DRIED_MOISTURE);
        if dried { grade.least_width() - KILN_DRIED_SCANT } else { grade.least_width() }
    }

    /// FAS surfaces to the standard thickness over the whole board.
    fn warp(&self) -> Option<String> {
        let board = self.board;
        if board.surfaced.faces_planed() {
            return None;
        }
        let row = match board.nominal {
            Some(nominal) => thickness::find(nominal.numerator, nominal.denominator)?,
            None => thickness::largest_satisfied(board.thickness, false)?,
        };
        let asked = row.least(true)?;
        let warp = Length::from_ticks(board.warp.cup.ticks() + board.warp.twist.ticks() / 2);
        let left = board.thickness - warp;
        (left < asked)
            .then(|| format!("surfaces to {} where cup and twist are planed off, {} is asked", say(left), say(asked)))
    }

    /// The poor face decides: both must do. Surfaced boards are graded from the better one.
    fn poor_face(&self, grade: Grade, look: &dyn Fn(Face) -> Look) -> Trial {
        let mut faces = vec![self.look(look(Face::Top))];
        let either = self.board.surfaced.faces_planed();
        if !(either && faces[0].verdict == Verdict::Reached) {
            faces.push(self.look(look(Face::Bottom)));
        }
        let verdicts: Vec<Verdict> = faces.iter().map(|face| face.verdict).collect();
        let verdict = if either { any_of(&verdicts) } else { all_of(&verdicts) };
        trial(grade, verdict, faces)
    }

    /// One face FAS, the other No. 1 Common; the reverse of cuttings need not be sound.
    fn better_and_reverse(&self, grade: Grade) -> Trial {
        let better = match (grade, self.surface_measure) {
            (Grade::Selects, 2 | 3) => FaceGrade::SmallSelects,
            _ => FaceGrade::Fas,
        };
        let mut nearest: Option<Trial> = None;
        for face in [Face::Top, Face::Bottom] {
            let plain = Look { face, asked: better, sound_reverse: false, sound: false, limits: Limits::Fas };
            let mut faces = vec![self.look(plain)];
            if faces[0].verdict != Verdict::Refused {
                let look = Look { face: reverse(face), asked: FaceGrade::No1, limits: Limits::Reverse, ..plain };
                faces.push(self.look(look));
            }
            let verdicts: Vec<Verdict> = faces.iter().map(|face| face.verdict).collect();
            let tried = trial(grade, all_of(&verdicts), faces);
            if tried.verdict == Verdict::Reached {
                return tried;
            }
            let rank = |trial: &Trial| (trial.verdict == Verdict::Unsettled, trial.faces.len());
            if nearest.as_ref().is_none_or(|known| rank(&tried) > rank(known)) {
                nearest = Some(tried);
            }
        }
        nearest.expect("two faces were tried")
    }

    /// Sound cuttings lie on both faces alike.
    fn both_at_once(&self, grade: Grade, asked: FaceGrade) -> Trial {
        let look = Look { face: Face::Top, asked, sound_reverse: true, sound: true, limits: Limits::None };
        let face = self.look(look);
        trial(grade, face.verdict, vec![face])
    }

    /// No. 3A by its own rule, or as No. 2A on the better face.
    fn third_grade(&self, look: &dyn Fn(Face) -> Look) -> Trial {
        let own = self.poor_face(Grade::No3aCommon, look);
        if own.verdict == Verdict::Reached {
            return own;
        }
        for face in [Face::Top, Face::Bottom] {
            let found = self.look(Look { asked: FaceGrade::No2, ..look(face) });
            if found.verdict == Verdict::Reached {
                return trial(Grade::No3aCommon, Verdict::Reached, vec![found]);
            }
        }
        own
    }

    fn look(&self, look: Look) -> FaceFound {
        let field =
            if look.sound { sound_field(self.board) } else { clear_field(self.board, look.face, look.sound_reverse) };
        let breaches = match look.limits {
            Limits::Fas => fas_breaches(self.board, look.face, self.surface_measure),
            Limits::Common => common_breaches(self.board, look.face),
            Limits::Reverse => reverse_breaches(self.board, look.face),
            Limits::None => Vec::new(),
        };
        let mut ways = Vec::new();
        let mut demands = look.asked.demands(self.surface_measure);
        if self.board.width < self.narrowest(Grade::Fas) {
            // Boards of 6 in and wider only, though Selects are asked for the same cuttings as FAS.
            demands.retain(|demand| demand.way != Way::NinetySeven);
        }
        for demand in demands {
            ways.push(self.try_way(look.asked, &demand, &field));
            if ways.last().is_some_and(|way| way.verdict == Verdict::Reached) {
                break;
            }
        }
        let verdicts: Vec<Verdict> = ways.iter().map(|way| way.verdict).collect();
        let verdict = if breaches.is_empty() { any_of(&verdicts) } else { Verdict::Refused };
        FaceFound { face: look.face, asked: look.asked, sound: look.sound, ways, breaches, verdict }
    }

    fn try_way(&self, asked: FaceGrade, demand: &Demand, field: &Field) -> WayFound {
        let required = area_of_units(demand.hundredths).square_ticks();
        let (rects, upper) = match demand.way {
            Way::Standard | Way::ExtraCutting => self.search(asked, demand, field, required),
            Way::NinetySeven => full_width(self.board, field),
            Way::AllClear => all_clear(self.board, field),
        };
        let area: i128 = rects.iter().map(Rect::area).sum();
        let verdict = match demand.way {
            Way::AllClear if rects.is_empty() => Verdict::Refused,
            _ if required <= area => Verdict::Reached,
            _ if upper < required => Verdict::Refused,
            _ => Verdict::Unsettled,
        };
        WayFound {
            way: demand.way,
            allowed: demand.cuttings,
            required: demand.hundredths as f64 / 100.0,
            obtained: units(area),
            at_most: units(upper),
            cuttings: rects.iter().map(cutting).collect(),
            verdict,
        }
    }

    /// The cuttings of a face, and what none exceed.
    fn search(&self, asked: FaceGrade, demand: &Demand, field: &Field, required: i128) -> (Vec<Rect>, i128) {
        let least = Least::from(&asked.least_cutting());
        let steps = self.options.steps;
        let decide = Effort { goal: required, decide: !self.options.best_cuttings, steps };
        let found = best(field, &least, demand.cuttings, decide);
        if !self.options.best_cuttings || found.area < required || demand.cuttings.is_none() {
            return (found.cuttings, found.upper);
        }
        // The grade is reached; how much more there is is told as far as it is cheap to find.
        let more = Effort { goal: i128::MAX, decide: false, steps: steps / 20 };
        let more = best(field, &least, demand.cuttings, more);
        if more.area < found.area { (found.cuttings, found.upper) } else { (more.cuttings, more.upper) }
    }
}

fn trial(grade: Grade, verdict: Verdict, faces: Vec<FaceFound>) -> Trial {
    let reasons = match verdict {
        Verdict::Reached => Vec::new(),
        _ => faces.iter().filter(|face| face.verdict != Verdict::Reached).flat_map(shortfall).collect(),
    };
    Trial { grade, verdict, faces, reasons }
}

/// Why a face does not reach its grade.
fn shortfall(found: &FaceFound) -> Vec<String> {
    let face = match found.face {
        _ if found.sound => "sound wood",
        Face::Top => "top face",
        Face::Bottom => "bottom face",
    };
    let mut reasons: Vec<String> = found.breaches.iter().map(|breach| format!("{face}: {breach}")).collect();
    if !found.ways.iter().any(|way| way.verdict == Verdict::Reached) {
        let asked = found.asked.name();
        reasons.push(match found.best_way() {
            None => format!("{face}: no cutting counts for {asked} on a board of this surface measure"),
            Some(way) => {
                let (obtained, required) = (way.obtained, way.required);
                let cuttings = match way.allowed {
                    Some(1) => "one cutting".to_owned(),
                    Some(count) => format!("{count} cuttings"),
                    None => "any number of cuttings".to_owned(),
                };
                let doubt = match way.verdict {
                    Verdict::Unsettled => format!(" found; not proven: up to {} are not ruled out", way.at_most),
                    _ => String::new(),
                };
                format!("{face}: {obtained} of {required} units for {asked} in {cuttings}{doubt}")
            }
        });
    }
    reasons
}

fn all_of(verdicts: &[Verdict]) -> Verdict {
    if verdicts.contains(&Verdict::Refused) || verdicts.is_empty() {
        Verdict::Refused
    } else if verdicts.contains(&Verdict::Unsettled) {
        Verdict::Unsettled
    } else {
        Verdict::Reached
    }
}

fn any_of(verdicts: &[Verdict]) -> Verdict {
    if verdicts.contains(&Verdict::Reached) {
        Verdict::Reached
    } else if verdicts.contains(&Verdict::Unsettled) {
        Verdict::Unsettled
    } else {
        Verdict::Refused
    }
}

/// The two longest clear runs of full width; runs that cannot be made longer do not overlap, so this is exact.
fn full_width(board: &Board, field: &Field) -> (Vec<Rect>, i128) {
    let least = Least { pairs: vec![(board.width.ticks(), 1)], area: 0 };
    let mut runs = field.largest_clear(&least);
    runs.truncate(2);
    let area = runs.iter().map(Rect::area).sum();
    (runs, area)
}

fn all_clear(board: &Board, field: &Field) -> (Vec<Rect>, i128) {
    if !field.is_clear() {
        return (Vec::new(), 0);
    }
    let whole = Rect { x1: 0, y1: 0, x2: board.length.ticks(), y2: board.width.ticks() };
    (vec![whole], whole.area())
}

fn cutting(rect: &Rect) -> Cutting {
    Cutting {
        x: Length::from_ticks(rect.x1),
        y: Length::from_ticks(rect.y1),
        length: Length::from_ticks(rect.length()),
        width: Length::from_ticks(rect.width()),
    }
}

fn units(area: i128) -> f64 {
    units_of_area(Area::from_square_ticks(area))
}
