//! Wood movement with moisture, and the moisture wood settles at in a climate.
//!
//! Figures told to people, so in floats, and lengths are to the nearest tick; nothing here decides whether a part fits.
//! Moisture contents are percent of the oven-dry weight. Movement along the grain (0.1 to 0.2 % from green to dry) is
//! taken as none. Source: USDA Wood Handbook, FPL-GTR-190, chapters 4 and 13.

use super::species::Species;
use crate::measure::{Length, Units};

/// The moisture contents, percent, between which the movement coefficients hold.
pub const COEFFICIENT_RANGE: std::ops::RangeInclusive<f64> = 6.0..=14.0;

/// How a width lies to the growth rings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cut {
    /// Along the rings: the width moves tangentially.
    Flat,
    /// Halfway: taken as the mean of the two (common practice).
    Rift,
    /// Across the rings: the width moves radially.
    Quarter,
}

impl Cut {
    /// Share of the width gained per percent of moisture.
    pub fn coefficient(self, species: &Species) -> f64 {
        self.of(species.radial_coefficient, species.tangential_coefficient)
    }

    /// Shrinkage from green to oven dry, percent.
    pub fn shrinkage(self, species: &Species) -> f64 {
        self.of(species.radial_shrinkage, species.tangential_shrinkage)
    }

    fn of(self, radial: f64, tangential: f64) -> f64 {
        match self {
            Cut::Flat => tangential,
            Cut::Rift => 0.5 * (radial + tangential),
            Cut::Quarter => radial,
        }
    }
}

/// Change of a width by the coefficient method: width x C x (to - from). `None` when either moisture is outside 6 to
/// 14 %, where the coefficients do not hold, or when the figures are no numbers.
pub fn by_coefficient(width: Length, coefficient: f64, from: f64, to: f64) -> Option<Length> {
    let holds = COEFFICIENT_RANGE.contains(&from) && COEFFICIENT_RANGE.contains(&to);
    if holds { scaled(width, coefficient * (to - from)) } else { None }
}

/// Change of a width at any moisture up to fibre saturation: width x (to - from) / (fs x 100/S - fs + from), with S the
/// shrinkage from green to oven dry in percent and fs the fibre saturation point. Moisture above fibre saturation moves
/// nothing and counts as fibre saturation. `None` when a moisture is negative, or the figures are no numbers.
pub fn at_any_moisture(width: Length, shrinkage: f64, fibre_saturation: f64, from: f64, to: f64) -> Option<Length> {
    let sound = from >= 0.0 && to >= 0.0;
    if !sound {
        return None;
    }
    let (from, to) = (from.min(fibre_saturation), to.min(fibre_saturation));
    scaled(width, (to - from) / (fibre_saturation * 100.0 / shrinkage - fibre_saturation + from))
}

/// Change of a width of this wood from one moisture to another, negative when it shrinks: by the coefficient within 6
/// to 14 %, by the general formula outside. `None` as there.
pub fn change(width: Length, species: &Species, cut: Cut, from: f64, to: f64) -> Option<Length> {
    by_coefficient(width, cut.coefficient(species), from, to)
        .or_else(|| at_any_moisture(width, cut.shrinkage(species), species.fibre_saturation, from, to))
}

/// Shrinkage from green to a moisture content, percent of the green size: S0 (fs - M)/fs, and none above fibre
/// saturation. `shrinkage` is S0, from green to oven dry.
pub fn shrinkage_at(shrinkage: f64, fibre_saturation: f64, moisture: f64) -> f64 {
    shrinkage * (fibre_saturation - moisture.min(fibre_saturation)) / fibre_saturation
}

/// The movement coefficient that a shrinkage implies around 10 % moisture: (S/fs) / (100 - S (fs - 10)/fs). Reproduces
/// the published coefficients where they were made from the wood's own shrinkage.
pub fn coefficient_from_shrinkage(shrinkage: f64, fibre_saturation: f64) -> f64 {
    (shrinkage / fibre_saturation) / (100.0 - shrinkage * (fibre_saturation - 10.0) / fibre_saturation)
}

/// The moisture content, percent, that wood settles at in air of this temperature (Fahrenheit) and relative humidity
/// (percent). Equation 4-5 of the Wood Handbook; close to its table from 30 to 90 F, within half a percent at 140 F.
/// `None` when the humidity is not within 0 to 100 or the temperature is not a number.
pub fn equilibrium_moisture(fahrenheit: f64, humidity: f64) -> Option<f64> {
    if !(0.0..=100.0).contains(&humidity) || !fahrenheit.is_finite() {
        return None;
    }
    let t = fahrenheit;
    let w = 330.0 + 0.452 * t + 0.00415 * t * t;
    let k = 0.791 + 0.000463 * t - 0.000000844 * t * t;
    let k1 = 6.34 + 0.000775 * t - 0.0000935 * t * t;
    let k2 = 1.09 + 0.0284 * t - 0.0000904 * t * t;
    let kh = k * humidity / 100.0;
    let hydrated = k1 * kh + k1 * k2 * kh * kh;
    let twice_hydrated = k1 * kh + 2.0 * k1 * k2 * kh * kh;
    Some(1800.0 / w * (kh / (1.0 - kh) + twice_hydrated / (1.0 + hydrated)))
}

/// Degrees Fahrenheit of degrees Celsius.
pub fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

/// A length times a float share, to the nearest tick.
fn scaled(width: Length, share: f64) -> Option<Length> {
    Length::from_json_f64(width.to_f64(Units::Millimetres) * share, Units::Millimetres)
}
