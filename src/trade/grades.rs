//! Hardwood grades: what each asks of a board and of its faces, as a table and pure rules.
//!
//! Covers the standard grades of the National Hardwood Lumber Association (NHLA) from FAS to No. 3B Common, without the
//! exceptions that single species have. Sizes are exact; units are counted in hundredths, because the 97 percent rule needs
//! them. Finding cuttings on a board, and judging a board, is `grade`'s business.
//!
//! Sources: NHLA rules as restated in trade charts and in the illustrated grading guide of the American Hardwood Export
//! Council (sizes, units, cuttings); NHLA rules 2019, paragraphs 57 to 72 (limits of FAS, F1F and No. 1 Common), 2023, page
//! 56 (kiln-dried widths). A cutting unit is 12 square inches (paragraph 37).

use crate::measure::{Area, Length};

/// A grade, best first.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
pub enum Grade {
    #[serde(rename = "FAS")]
    Fas,
    #[serde(rename = "F1F")]
    F1f,
    #[serde(rename = "Selects")]
    Selects,
    #[serde(rename = "No.1 Common")]
    No1Common,
    #[serde(rename = "No.2A Common")]
    No2aCommon,
    #[serde(rename = "No.2B Common")]
    No2bCommon,
    #[serde(rename = "No.3A Common")]
    No3aCommon,
    #[serde(rename = "No.3B Common")]
    No3bCommon,
}

impl Grade {
    /// All grades, best first.
    pub const ALL: [Grade; 8] = [
        Grade::Fas,
        Grade::F1f,
        Grade::Selects,
        Grade::No1Common,
        Grade::No2aCommon,
        Grade::No2bCommon,
        Grade::No3aCommon,
        Grade::No3bCommon,
    ];

    /// The trade's name.
    pub const fn name(self) -> &'static str {
        match self {
            Grade::Fas => "FAS",
            Grade::F1f => "F1F",
            Grade::Selects => "Selects",
            Grade::No1Common => "No.1 Common",
            Grade::No2aCommon => "No.2A Common",
            Grade::No2bCommon => "No.2B Common",
            Grade::No3aCommon => "No.3A Common",
            Grade::No3bCommon => "No.3B Common",
        }
    }

    /// The grade an invoice means by `text`: case, spaces, full stops and number signs do not matter, and words such as
    /// `1C`, `#1 Com`, `Sel & Btr` are known ("and better" names the least grade of the lot). `None` for anything else.
    ///
    /// ```
    /// use flitchwork::trade::grades::Grade;
    /// assert_eq!(Grade::read("#1 Common"), Some(Grade::No1Common));
    /// assert_eq!(Grade::read("Sel & Btr"), Some(Grade::Selects));
    /// assert_eq!(Grade::read("rustic"), None);
    /// ```
    pub fn read(text: &str) -> Option<Grade> {
        let plain: String = text.chars().filter(|c| c.is_ascii_alphanumeric()).collect::<String>().to_ascii_lowercase();
        let plain = ["andbetter", "andbtr", "better", "btr"]
            .iter()
            .find_map(|ending| plain.strip_suffix(ending))
            .unwrap_or(&plain);
        let bare = plain.strip_prefix("no").unwrap_or(plain);
        let bare = bare.strip_suffix("common").or_else(|| bare.strip_suffix("com")).unwrap_or(bare);
        match bare {
            "fas" | "firstsandseconds" => Some(Grade::Fas),
            "f1f" | "fas1f" | "fas1face" | "fasoneface" => Some(Grade::F1f),
            "sel" | "select" | "selects" => Some(Grade::Selects),
            "1" | "1c" => Some(Grade::No1Common),
            "2" | "2c" | "2a" | "2ac" => Some(Grade::No2aCommon),
            "2b" | "2bc" => Some(Grade::No2bCommon),
            "3a" | "3ac" => Some(Grade::No3aCommon),
            "3b" | "3bc" => Some(Grade::No3bCommon),
            _ => None,
        }
    }

    /// The narrowest board of the grade, before drying.
    pub const fn least_width(self) -> Length {
        Length::from_inches(match self {
            Grade::Fas | Grade::F1f => 6,
            Grade::Selects => 4,
            _ => 3,
        })
    }

    /// The shortest board of the grade, whole feet.
    pub const fn least_feet(self) -> i64 {
        match self {
            Grade::Fas | Grade::F1f => 8,
            Grade::Selects => 6,
            _ => 4,
        }
    }
}

/// How much narrower than the least width of a grade a kiln-dried board may be (NHLA 2023, page 56). That one board in ten
/// may be 1/2 in narrower is a rule for a lot and not applied here.
pub const KILN_DRIED_SCANT: Length = Length::from_inch_fraction(1, 4);

/// What the cuttings of a face are asked to make.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, schemars::JsonSchema)]
pub enum FaceGrade {
    #[serde(rename = "FAS")]
    Fas,
    /// The better face of Selects with 2 or 3 square feet.
    #[serde(rename = "Selects, small board")]
    SmallSelects,
    #[serde(rename = "No.1 Common")]
    No1,
    /// No. 2A with clear cuttings, No. 2B with sound ones.
    #[serde(rename = "No.2 Common")]
    No2,
    #[serde(rename = "No.3A Common")]
    No3a,
    #[serde(rename = "No.3B Common")]
    No3b,
}

/// How small a cutting may be: one of the pairs must be met on both sides, and the area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeastCutting {
    /// Width and length.
    pub pairs: Vec<(Length, Length)>,
    pub area: Area,
}

/// The way in which a face reaches its grade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// The units asked for, in the cuttings allowed.
    Standard,
    /// More units, in one cutting more.
    ExtraCutting,
    /// 97 percent in two cuttings of full width and any length.
    NinetySeven,
    /// The whole face is clear.
    AllClear,
}

impl Way {
    /// What the rule is called in a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Way::Standard => "the standard units",
            Way::ExtraCutting => "the extra cutting",
            Way::NinetySeven => "the 97 percent rule",
            Way::AllClear => "a face all clear",
        }
    }
}

/// One way to a face's grade, in figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demand {
    pub way: Way,
    /// Cuttings allowed; `None` for any number.
    pub cuttings: Option<u32>,
    /// Hundredths of cutting units required.
    pub hundredths: i64,
}

/// Hundredths of a cutting unit as an area.
pub const fn area_of_units(hundredths: i64) -> Area {
    // 12 square inches divide by 100 in whole square ticks.
    const HUNDREDTH: i128 = 12 * (Length::PER_INCH as i128) * (Length::PER_INCH as i128) / 100;
    Area::from_square_ticks(hundredths as i128 * HUNDREDTH)
}

/// An area in cutting units, rounded down to the hundredth.
pub fn units_of_area(area: Area) -> f64 {
    (area.square_ticks() / area_of_units(1).square_ticks()) as f64 / 100.0
}

impl FaceGrade {
    /// The name it has in a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            FaceGrade::Fas => "FAS",
            FaceGrade::SmallSelects => "Selects of a small board",
            FaceGrade::No1 => "No.1 Common",
            FaceGrade::No2 => "No.2 Common",
            FaceGrade::No3a => "No.3A Common",
            FaceGrade::No3b => "No.3B Common",
        }
    }

    /// The smallest cutting that counts.
    pub fn least_cutting(self) -> LeastCutting {
        let pairs: &[(i64, i64)] = match self {
            FaceGrade::Fas | FaceGrade::SmallSelects => &[(4, 5), (3, 7)],
            FaceGrade::No1 => &[(4, 2), (3, 3)],
            FaceGrade::No2 | FaceGrade::No3a => &[(3, 2)],
            FaceGrade::No3b => {
                let narrow = (Length::from_inch_fraction(3, 2), Length::ZERO);
                return LeastCutting { pairs: vec![narrow], area: area_of_units(300) };
            }
        };
        let pairs = pairs.iter().map(|&(inches, feet)| (Length::from_inches(inches), Length::from_inches(12 * feet)));
        LeastCutting { pairs: pairs.collect(), area: Area::ZERO }
    }

    /// The ways to this grade at a tallied surface measure, the usual one first; none when a board of that measure cannot
    /// have it. The 97 percent rule is among those of FAS; it holds for boards of the least width of FAS only.
    pub fn demands(self, surface_measure: u32) -> Vec<Demand> {
        let sm = i64::from(surface_measure);
        let some =
            |way, cuttings: u32, per_foot: i64| Demand { way, cuttings: Some(cuttings), hundredths: sm * per_foot };
        match self {
            FaceGrade::Fas => {
                let allowed = (surface_measure / 4).min(4);
                let mut ways = Vec::new();
                if allowed > 0 {
                    ways.push(some(Way::Standard, allowed, 1000));
                }
                if (6..=15).contains(&surface_measure) {
                    ways.push(some(Way::ExtraCutting, allowed + 1, 1100));
                }
                if (6..=12).contains(&surface_measure) {
                    ways.push(some(Way::NinetySeven, 2, 1164));
                }
                ways
            }
            FaceGrade::SmallSelects => match surface_measure {
                2 | 3 => vec![some(Way::Standard, 1, 1100), some(Way::AllClear, 1, 0)],
                _ => Vec::new(),
            },
            FaceGrade::No1 => match surface_measure {
                0 => Vec::new(),
                1 => vec![some(Way::Standard, 1, 1200), some(Way::AllClear, 1, 0)],
                2 => vec![some(Way::Standard, 1, 900)],
                _ => {
                    let allowed = ((surface_measure + 1) / 3).min(5);
                    let mut ways = vec![some(Way::Standard, allowed, 800)];
                    if surface_measure <= 10 {
                        ways.push(some(Way::ExtraCutting, allowed + 1, 900));
                    }
                    ways
                }
            },
            FaceGrade::No2 => match surface_measure {
                0 => Vec::new(),
                1 => vec![some(Way::Standard, 1, 800)],
                _ => {
                    let allowed = (surface_measure / 2).min(7);
                    let mut ways = vec![some(Way::Standard, allowed, 600)];
                    if surface_measure <= 7 {
                        ways.push(some(Way::ExtraCutting, allowed + 1, 800));
                    }
                    ways
                }
            },
            FaceGrade::No3a | FaceGrade::No3b => {
                let per_foot = if self == FaceGrade::No3a { 400 } else { 300 };
                let any = Demand { way: Way::Standard, cuttings: None, hundredths: sm * per_foot };
                if surface_measure == 0 { Vec::new() } else { vec![any] }
            }
        }
    }
}

/// Most pith on a FAS face, total length.
pub const fn fas_pith(surface_measure: u32) -> Length {
    Length::from_inches(surface_measure as i64)
}

/// Most splits on a FAS face, total length.
pub fn fas_splits(surface_measure: u32) -> Length {
    Length::from_inches((2 * i64::from(surface_measure)).max(12))
}

/// Greatest average diameter of a knot or hole on a FAS face.
pub const fn fas_knot(surface_measure: u32) -> Length {
    Length::from_inch_fraction(surface_measure as i64, 3)
}

/// A split on a FAS face widens by no more than this length for each one in width.
pub const FAS_SPLIT_SLOPE: i64 = 12;

/// The end of a FAS board that is looked at by itself.
pub const FIRST_LINEAL_FOOT: Length = Length::from_inches(12);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn invoices_name_grades_in_many_ways() {
        for (text, grade) in [
            ("FAS", Grade::Fas),
            ("fas & better", Grade::Fas),
            ("FAS 1F", Grade::F1f),
            ("Sel", Grade::Selects),
            ("No. 1 Common", Grade::No1Common),
            ("1 Com", Grade::No1Common),
            ("#2AC", Grade::No2aCommon),
            ("2B", Grade::No2bCommon),
            ("No.3A Common", Grade::No3aCommon),
            ("3BC", Grade::No3bCommon),
        ] {
            assert_eq!(Grade::read(text), Some(grade), "{text}");
        }
        for text in ["", "A", "4C", "character", "no", "common"] {
            assert_eq!(Grade::read(text), None, "{text}");
        }
        for grade in Grade::ALL {
            assert_eq!(Grade::read(grade.name()), Some(grade));
        }
    }

    #[test]
    fn a_hundredth_of_a_unit_is_a_whole_area() {
        let square_inch = Length::from_inches(1) * Length::from_inches(1);
        assert_eq!(area_of_units(100).square_ticks(), 12 * square_inch.square_ticks());
        assert_eq!(units_of_area(area_of_units(8148)), 81.48);
    }
}
