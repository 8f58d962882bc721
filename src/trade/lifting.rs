//! What one person may lift: the revised NIOSH lifting equation.
//!
//! Recommended weight limit = load constant x six multipliers, each at most 1. Inches, pounds and degrees. What a
//! piece weighs is `weight`'s. Source: NIOSH publication 94-110, Applications Manual for the Revised NIOSH Lifting
//! Equation (1994). Read there: the constant and the three position multipliers; the cut-offs, the twist, grip and
//! frequency multipliers are from memory.

use super::Figure;

/// The most one person should lift under the best conditions: 51 lb.
pub const LOAD_CONSTANT: Figure = Figure::published(51.0, "lb", "NIOSH 94-110");

/// The load constant as the source rounds it in metric: 23 kg.
pub const LOAD_CONSTANT_METRIC: Figure = Figure::published(23.0, "kg", "NIOSH 94-110");

/// How well the hands hold the load.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Grip {
    /// Handles, or an edge the fingers close around.
    Good,
    /// Fingers under the load.
    Fair,
    /// Slippery, sagging or sharp.
    Poor,
}

/// How long lifting goes on in a day, at no more than one lift in five minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Duration {
    /// Up to an hour.
    Short,
    /// Up to two hours.
    Moderate,
    /// Up to eight hours.
    Long,
}

/// One lift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lift {
    /// Hands ahead of the ankles, inches.
    pub reach: f64,
    /// Hands above the floor at the start, inches.
    pub height: f64,
    /// How far up or down the load travels, inches.
    pub travel: f64,
    /// How far the body turns, degrees.
    pub twist: f64,
    /// How well the hands hold it.
    pub grip: Grip,
    /// How long lifting goes on.
    pub duration: Duration,
}

impl Lift {
    /// The recommended weight limit for this lift, pounds. Zero when a position is beyond what the equation allows.
    pub fn limit_pounds(&self) -> f64 {
        LOAD_CONSTANT.value
            * reach_multiplier(self.reach)
            * height_multiplier(self.height)
            * travel_multiplier(self.travel)
            * twist_multiplier(self.twist)
            * duration_multiplier(self.duration)
            * grip_multiplier(self.grip, self.height)
    }
}

/// HM: 10/H, 1 up to 10 in, nothing beyond 25 in.
pub fn reach_multiplier(reach: f64) -> f64 {
    if reach > 25.0 { 0.0 } else { 10.0 / reach.max(10.0) }
}

/// VM: 1 - 0.0075 |V - 30|, nothing beyond 70 in or below the floor.
pub fn height_multiplier(height: f64) -> f64 {
    if (0.0..=70.0).contains(&height) { 1.0 - 0.0075 * (height - 30.0).abs() } else { 0.0 }
}

/// DM: 0.82 + 1.8/D, 1 up to 10 in, nothing beyond 70 in.
pub fn travel_multiplier(travel: f64) -> f64 {
    if travel > 70.0 { 0.0 } else { 0.82 + 1.8 / travel.max(10.0) }
}

/// AM: 1 - 0.0032 A, nothing beyond 135 degrees.
pub fn twist_multiplier(degrees: f64) -> f64 {
    if degrees.abs() > 135.0 { 0.0 } else { 1.0 - 0.0032 * degrees.abs() }
}

/// FM at no more than one lift in five minutes.
pub fn duration_multiplier(duration: Duration) -> f64 {
    match duration {
        Duration::Short => 1.0,
        Duration::Moderate => 0.95,
        Duration::Long => 0.85,
    }
}

/// CM: the grip, a fair one being worse below 30 in.
pub fn grip_multiplier(grip: Grip, height: f64) -> f64 {
    match grip {
        Grip::Good => 1.0,
        Grip::Fair if height < 30.0 => 0.95,
        Grip::Fair => 1.0,
        Grip::Poor => 0.9,
    }
}
