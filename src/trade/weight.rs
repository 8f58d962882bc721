//! What wood and panels weigh.
//!
//! Figures told to people, so in floats. What one person may lift is `lifting`'s. Source: USDA Wood Handbook,
//! FPL-GTR-190, chapter 4: density = gravity x (1 + M/100) x that of water.

use super::species::Species;
use super::{Figure, Status};
use crate::measure::{Length, Units};

/// Density of water as the handbook's wood densities use it, pounds a cubic foot.
pub const WATER_POUNDS_PER_CUBIC_FOOT: f64 = 62.43;

/// Density of water, kilograms a cubic metre.
pub const WATER_KILOGRAMS_PER_CUBIC_METRE: f64 = 1000.0;

/// Kilograms in a pound, exact by definition.
pub const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;

/// Density of oak-faced veneer plywood: a 3/4 in sheet of 4 x 8 ft weighs about 70 lb.
pub const OAK_PLYWOOD: Figure = Figure {
    value: 35.0,
    unit: "lb/ft3",
    source: "shop custom: weight of oak-faced veneer-core sheets",
    status: Status::CommonPractice,
};

/// How much more volume a unit of green gravity gives up as wood dries: the constant of the gravity formula.
pub const GRAVITY_FACTOR: Figure = Figure {
    value: 0.265,
    unit: "of the green gravity",
    source: "Wood Handbook, FPL-GTR-190, chapter 4",
    status: Status::FromMemory,
};

/// Moisture content, percent, of the gravity tables' dry column.
const DRY_COLUMN: f64 = 12.0;
/// Moisture content, percent, up to which the handbook's gravity formula has wood swell.
const GREEN: f64 = 30.0;

/// Specific gravity at a moisture content from that of the green wood: Gb / (1 - 0.265 Gb (1 - M/30)); the green one
/// from 30 % up.
pub fn gravity_from_green(green: f64, moisture: f64) -> f64 {
    green / (1.0 - GRAVITY_FACTOR.value * green * (1.0 - moisture.min(GREEN) / GREEN))
}

/// Specific gravity of a wood at a moisture content. The handbook's formula is a straight line in 1/gravity; where the
/// table prints the gravity at 12 % the line is drawn through it and the green one, elsewhere it is the formula.
pub fn gravity_at(species: &Species, moisture: f64) -> f64 {
    let Some(at_12) = species.gravity_at_12 else {
        return gravity_from_green(species.green_gravity, moisture);
    };
    let dryness = (GREEN - moisture.min(GREEN)) / (GREEN - DRY_COLUMN);
    let green_volume = 1.0 / species.green_gravity;
    1.0 / (green_volume + dryness * (1.0 / at_12 - green_volume))
}

/// Pounds a cubic foot of wood of a specific gravity, both at this moisture content.
pub fn pounds_per_cubic_foot(gravity: f64, moisture: f64) -> f64 {
    WATER_POUNDS_PER_CUBIC_FOOT * gravity * (1.0 + moisture / 100.0)
}

/// Kilograms a cubic metre of wood of a specific gravity, both at this moisture content.
pub fn kilograms_per_cubic_metre(gravity: f64, moisture: f64) -> f64 {
    WATER_KILOGRAMS_PER_CUBIC_METRE * gravity * (1.0 + moisture / 100.0)
}

/// Cubic feet of a rectangular piece.
pub fn cubic_feet(length: Length, width: Length, thickness: Length) -> f64 {
    let feet = |side: Length| side.to_f64(Units::Inches) / 12.0;
    feet(length) * feet(width) * feet(thickness)
}

/// Pounds that a rectangular piece of solid wood weighs at a moisture content.
pub fn piece_pounds(species: &Species, moisture: f64, length: Length, width: Length, thickness: Length) -> f64 {
    pounds_per_cubic_foot(gravity_at(species, moisture), moisture) * cubic_feet(length, width, thickness)
}
