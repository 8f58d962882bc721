//! The figures behind the cautions: machines, dust, noise.
//!
//! Numbers with their source and how well each is known; the words of a caution and when it applies are `plan`'s. What
//! one person may lift is `lifting`'s. A machine's own manual and local rules go before any figure here. Schools differ
//! and manuals differ: where they do, the figure is the one named.

use super::Figure;

const SCHOOL_TEST: &str = "school shop jointer test";
const SCHOOL_AUDIT: &str = "school shop audit list";
const JOINTER_MANUALS: &str = "jointer manuals";
const SHOP_CUSTOM: &str = "shop custom";
const OSHA_WOOD_DUST: &str = "osha.gov, wood dust exposure limits";
const OSHA_NOISE: &str = "29 CFR 1910.95";
const NIOSH_NOISE: &str = "NIOSH criteria, as an examination board quotes them";

/// Shortest stock on the jointer.
pub const JOINTER_SHORTEST: Figure = Figure::published(12.0, "in", SCHOOL_TEST);
/// Shortest stock on the jointer where a school is stricter.
pub const JOINTER_SHORTEST_STRICT: Figure = Figure::published(14.0, "in", "high-school woodworking safety manual");
/// Narrowest stock on the jointer.
pub const JOINTER_NARROWEST: Figure = Figure::published(0.75, "in", JOINTER_MANUALS);
/// Thinnest stock face-jointed.
pub const JOINTER_THINNEST: Figure = Figure::published(0.25, "in", SCHOOL_TEST);
/// Deepest cut of the jointer.
pub const JOINTER_DEEPEST_CUT: Figure = Figure::published(1.0 / 16.0, "in", "school shop tests");
/// Push block or hold-down on the jointer for stock shorter than this.
pub const JOINTER_PUSH_BLOCK_LENGTH: Figure = Figure::published(12.0, "in", JOINTER_MANUALS);
/// Push block or hold-down on the jointer for stock narrower or thinner than this.
pub const JOINTER_PUSH_BLOCK_SECTION: Figure = Figure::published(3.0, "in", JOINTER_MANUALS);
/// Hands from the cutterhead of the jointer, the widest of the figures.
pub const JOINTER_HANDS: Figure = Figure::published(6.0, "in", SCHOOL_AUDIT);
/// The planer leaves nothing thinner.
pub const PLANER_THINNEST: Figure = Figure::published(0.25, "in", SCHOOL_AUDIT);
/// Stock on the planer is this much longer than its rollers are apart.
pub const PLANER_PAST_ROLLERS: Figure = Figure::common_practice(2.0, "in", SHOP_CUSTOM);
/// Push stick for a rip this wide or narrower.
pub const RIP_PUSH_STICK: Figure = Figure::published(6.0, "in", SCHOOL_AUDIT);
/// Blade above the stock on the table saw.
pub const RIP_BLADE_ABOVE: Figure = Figure::published(0.25, "in", SCHOOL_AUDIT);
/// Shortest piece ripped on the table saw.
pub const RIP_SHORTEST: Figure = Figure::common_practice(12.0, "in", SHOP_CUSTOM);
/// Narrowest rip without a jig.
pub const RIP_NARROWEST: Figure = Figure::common_practice(1.0, "in", SHOP_CUSTOM);
/// Hands from the blade of the mitre saw.
pub const MITRE_SAW_HANDS: Figure = Figure::published(6.0, "in", SCHOOL_AUDIT);

/// Legal limit for all wood dust over 8 h.
pub const DUST_OSHA_TOTAL: Figure = Figure::published(15.0, "mg/m3", OSHA_WOOD_DUST);
/// Legal limit for the respirable part over 8 h.
pub const DUST_OSHA_RESPIRABLE: Figure = Figure::published(5.0, "mg/m3", OSHA_WOOD_DUST);
/// Recommended limit of the research institute.
pub const DUST_NIOSH: Figure = Figure::published(1.0, "mg/m3", OSHA_WOOD_DUST);
/// Recommended limit of the hygienists, all woods but western redcedar.
pub const DUST_ACGIH: Figure = Figure::published(1.0, "mg/m3", OSHA_WOOD_DUST);
/// Recommended limit of the hygienists, western redcedar.
pub const DUST_ACGIH_WESTERN_REDCEDAR: Figure = Figure::published(0.5, "mg/m3", OSHA_WOOD_DUST);

/// Legal noise limit over 8 h.
pub const NOISE_OSHA: Figure = Figure::published(90.0, "dBA", OSHA_NOISE);
/// Louder by this halves the time allowed.
pub const NOISE_OSHA_STEP: Figure = Figure::published(5.0, "dB", OSHA_NOISE);
/// Noise over 8 h from which hearing is to be looked after.
pub const NOISE_OSHA_ACTION: Figure = Figure::published(85.0, "dBA", OSHA_NOISE);
/// Recommended noise limit over 8 h.
pub const NOISE_NIOSH: Figure = Figure::published(85.0, "dBA", NIOSH_NOISE);
/// Louder by this halves the time recommended.
pub const NOISE_NIOSH_STEP: Figure = Figure::published(3.0, "dB", NIOSH_NOISE);
