//! The shop profile: every setting of the milling model with its default, unit and source.
//!
//! Holds the resolved settings and their defaults only; reading the file is `file`'s business, what the figures do to
//! wood is `milling`'s. Defaults are stated in inches and kept exact; a millimetre shop gets the same figures except the
//! rip step, which is then 1 mm.

use super::rates::Rates;
use crate::measure::{Length, Rational, Units};

/// Every setting of the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Shop {
    pub kerf: Kerf,
    pub trim: Trim,
    pub defect: DefectMargins,
    pub step: Step,
    pub warp: WarpRule,
    pub allowance: Allowance,
    pub machine: Machine,
    pub glue: Glue,
    pub climate: Climate,
    pub keep: Keep,
    pub print: Print,
    /// What the shop charges; of no concern to milling.
    pub rates: Rates,
}

/// Wood lost to the saw.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kerf {
    pub rip: Length,
    pub crosscut: Length,
    pub resaw: Length,
}

/// Wood trimmed off before it is counted on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trim {
    pub board_end: Length,
    pub snipe: Length,
    pub edge: Length,
    pub far_edge: Length,
    pub sheet: Length,
    pub stick: Length,
}

/// How far around a defect the wood is not trusted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DefectMargins {
    pub margin_length: Length,
    pub margin_width: Length,
}

/// The step of the rip fence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    pub rip: Length,
}

/// How unevenly real boards bend.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WarpRule {
    pub factor: Rational,
}

/// Oversize of blanks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Allowance {
    pub length: Length,
    pub width: Length,
    pub face: Length,
    pub face_surfaced: Length,
    pub joint: Length,
    pub layer_length: Length,
    pub layer_width: Length,
    pub layer_face: Length,
    pub panel_length: Length,
    pub panel_width: Length,
    pub panel_face: Length,
    pub resaw: Length,
}

/// What the machines take.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Machine {
    pub jointer_width: Length,
    pub planer_width: Length,
    pub min_length: Length,
    pub min_rip_length: Length,
    /// Zero: the shop does not resaw.
    pub resaw_height: Length,
    pub rip_first: RipFirst,
    /// Changes of cut direction on a sheet; 0 = any number.
    pub sheet_stages: u32,
}

/// When a section is ripped before it is flattened.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum RipFirst {
    /// Only when it is wider than the jointer.
    #[default]
    Wide,
    /// Always.
    Always,
}

/// The glue-up bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Glue {
    pub max_layers: u32,
    pub clamp_spacing: Length,
}

/// The house the piece will live in, and the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Climate {
    /// Relative humidity, percent.
    pub rh_low: f64,
    /// Relative humidity, percent.
    pub rh_high: f64,
    /// Moisture content of the wood when it is worked, percent.
    pub build_moisture: f64,
}

/// What is worth keeping, and what it is credited at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Keep {
    pub length: Length,
    pub width: Length,
    /// Share of the stock's cost per area.
    pub credit: Rational,
}

/// How finely lengths are printed for people.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Print {
    pub rough: Length,
    pub fine: Length,
}

impl Shop {
    /// The defaults for a shop that measures in `units`.
    pub fn defaults(units: Units) -> Shop {
        let inch = Length::from_inch_fraction;
        let or_mm = |inches: Length, half_millimetres: i64| match units {
            Units::Inches => inches,
            Units::Millimetres => Length::from_ticks(half_millimetres * Length::PER_MM / 2),
        };
        let ratio = |n: i64, d: i64| Rational::new(n.into(), d.into());
        Shop {
            kerf: Kerf { rip: inch(1, 8), crosscut: inch(1, 8), resaw: inch(1, 16) },
            trim: Trim {
                board_end: inch(1, 1),
                snipe: inch(3, 1),
                edge: inch(1, 8),
                far_edge: inch(1, 4),
                sheet: inch(1, 4),
                stick: inch(1, 4),
            },
            defect: DefectMargins { margin_length: inch(1, 2), margin_width: inch(1, 4) },
            step: Step { rip: or_mm(inch(1, 16), 2) },
            warp: WarpRule { factor: ratio(5, 4) },
            allowance: Allowance {
                length: inch(1, 2),
                width: inch(1, 8),
                face: inch(1, 16),
                face_surfaced: inch(1, 32),
                joint: inch(1, 16),
                layer_length: inch(1, 2),
                layer_width: inch(1, 8),
                layer_face: inch(1, 16),
                panel_length: inch(1, 1),
                panel_width: inch(1, 4),
                panel_face: inch(1, 16),
                resaw: inch(3, 32),
            },
            machine: Machine {
                jointer_width: inch(8, 1),
                planer_width: inch(13, 1),
                min_length: inch(14, 1),
                min_rip_length: inch(12, 1),
                resaw_height: Length::ZERO,
                rip_first: RipFirst::Wide,
                sheet_stages: 3,
            },
            glue: Glue { max_layers: 4, clamp_spacing: inch(8, 1) },
            climate: Climate { rh_low: 30.0, rh_high: 60.0, build_moisture: 7.0 },
            keep: Keep { length: inch(24, 1), width: inch(3, 1), credit: ratio(3, 10) },
            print: Print { rough: or_mm(inch(1, 16), 2), fine: or_mm(inch(1, 32), 1) },
            rates: Rates::defaults(),
        }
    }
}
