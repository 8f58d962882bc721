//! The woods: weight, shrinkage and movement by species, and the names the trade knows them by.
//!
//! Figures only; what they do to a panel is `movement`'s, what a piece weighs is `weight`'s. A wood that is not in the
//! table is no error here: it is allowed in the files, and what needs its figures goes without.
//!
//! Source of the table: USDA Wood Handbook, FPL-GTR-190: shrinkage, tables 4-3 and 4-4; movement coefficients, table
//! 13-5 (imported woods: the table after it); specific gravity, tables 5-3b and 5-5b. Most figures were read in public
//! copies of those tables, the rest are from memory: the test data (`tests/data/trade/species.csv`) says which, column
//! by column, and only figures that were read count as a check from outside.

use Kind::{Hardwood as Hard, Softwood as Soft};

/// Broad-leaved or coniferous.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Broad-leaved.
    Hardwood,
    /// Coniferous.
    Softwood,
}

/// One wood of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Species {
    /// The name of its row, group first: `Cherry, black`.
    pub name: &'static str,
    /// Broad-leaved or coniferous.
    pub kind: Kind,
    /// Specific gravity of the green wood: oven-dry weight over green volume.
    pub green_gravity: f64,
    /// Specific gravity at 12 % moisture: oven-dry weight over volume at 12 %, where the table gives it.
    pub gravity_at_12: Option<f64>,
    /// Shrinkage along the radius from green to oven dry, percent of the green size.
    pub radial_shrinkage: f64,
    /// Shrinkage along the rings from green to oven dry, percent of the green size.
    pub tangential_shrinkage: f64,
    /// Change of a quartersawn width per percent of moisture, as a share of the width (CR).
    pub radial_coefficient: f64,
    /// Change of a flatsawn width per percent of moisture, as a share of the width (CT).
    pub tangential_coefficient: f64,
    /// Moisture content above which it neither shrinks nor swells, percent.
    pub fibre_saturation: f64,
}

impl Species {
    /// True for a broad-leaved wood.
    pub fn is_hardwood(&self) -> bool {
        self.kind == Kind::Hardwood
    }
}

/// The wood a name stands for, without regard to case, spaces, hyphens, commas or the order of the words: the name of
/// its row or a name of the trade. A name shared by woods of different figures stands for the one it usually means in
/// a hardwood yard (`birch` is yellow birch, `ash` white ash, `soft maple` red maple); where there is no usual one
/// (`oak`, `maple`, `elm`, `pine`, `cedar`) it stands for none, and neither does a name not in the table.
///
/// ```
/// use flitchwork::trade::species;
/// let cherry = species::find("Black  cherry").expect("cherry is in the table");
/// assert_eq!(cherry.name, "Cherry, black");
/// assert_eq!(species::find("cherry"), Some(cherry));
/// assert_eq!(species::find("oak"), None);
/// ```
pub fn find(name: &str) -> Option<&'static Species> {
    let wanted = words(name);
    if wanted.is_empty() {
        return None;
    }
    let row = |wanted: &[String]| TABLE.iter().find(|species| words(species.name) == wanted);
    row(&wanted).or_else(|| {
        let (_, of_row) = TRADE_NAMES.iter().find(|(trade_name, _)| words(trade_name) == wanted)?;
        row(&words(of_row))
    })
}

/// Every wood of the table.
pub fn all() -> &'static [Species] {
    &TABLE
}

/// The words of a name in lower case and alphabetical order: what two spellings of one name have in common.
fn words(name: &str) -> Vec<String> {
    let mut words: Vec<String> =
        name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_lowercase).collect();
    words.sort_unstable();
    words
}

/// Names of the trade, and the row each usually stands for (common practice).
const TRADE_NAMES: [(&str, &str); 68] = [
    ("alder", "Alder, red"),
    ("brown ash", "Ash, black"),
    ("ash", "Ash, white"),
    ("aspen", "Aspen, quaking"),
    ("popple", "Aspen, quaking"),
    ("basswood", "Basswood, American"),
    ("beech", "Beech, American"),
    ("white birch", "Birch, paper"),
    ("cherry birch", "Birch, sweet"),
    ("birch", "Birch, yellow"),
    ("white walnut", "Butternut"),
    ("cherry", "Cherry, black"),
    ("chestnut", "Chestnut, American"),
    ("wormy chestnut", "Chestnut, American"),
    ("cottonwood", "Cottonwood, eastern"),
    ("soft elm", "Elm, American"),
    ("white elm", "Elm, American"),
    ("hard elm", "Elm, rock"),
    ("red elm", "Elm, slippery"),
    ("pecan", "Hickory, pecan"),
    ("pecan hickory", "Hickory, pecan"),
    ("hickory", "Hickory, shagbark"),
    ("true hickory", "Hickory, shagbark"),
    ("locust", "Locust, black"),
    ("magnolia", "Magnolia, cucumbertree"),
    ("western maple", "Maple, bigleaf"),
    ("soft maple", "Maple, red"),
    ("hard maple", "Maple, sugar"),
    ("rock maple", "Maple, sugar"),
    ("red oak", "Oak, northern red"),
    ("western red oak", "Oak, California black"),
    ("white oak", "Oak, white"),
    ("gum", "Sweetgum"),
    ("red gum", "Sweetgum"),
    ("sweet gum", "Sweetgum"),
    ("sycamore", "Sycamore, American"),
    ("black gum", "Tupelo, black"),
    ("tupelo", "Tupelo, black"),
    ("walnut", "Walnut, black"),
    ("black american walnut", "Walnut, black"),
    ("american walnut", "Walnut, black"),
    ("willow", "Willow, black"),
    ("poplar", "Yellow-poplar"),
    ("yellowpoplar", "Yellow-poplar"),
    ("tulip poplar", "Yellow-poplar"),
    ("tulipwood", "Yellow-poplar"),
    ("tulip", "Yellow-poplar"),
    ("mahogany", "Mahogany, true (Swietenia)"),
    ("genuine mahogany", "Mahogany, true (Swietenia)"),
    ("true mahogany", "Mahogany, true (Swietenia)"),
    ("honduran mahogany", "Mahogany, true (Swietenia)"),
    ("african mahogany", "Mahogany, African (Khaya)"),
    ("khaya", "Mahogany, African (Khaya)"),
    ("cypress", "Baldcypress"),
    ("bald cypress", "Baldcypress"),
    ("aromatic cedar", "Cedar, eastern redcedar"),
    ("aromatic red cedar", "Cedar, eastern redcedar"),
    ("eastern redcedar", "Cedar, eastern redcedar"),
    ("eastern red cedar", "Cedar, eastern redcedar"),
    ("western redcedar", "Cedar, western redcedar"),
    ("western red cedar", "Cedar, western redcedar"),
    ("douglas fir", "Douglas-fir, coast"),
    ("coast douglas fir", "Douglas-fir, coast"),
    ("white pine", "Pine, eastern white"),
    ("western pine", "Pine, ponderosa"),
    ("southern yellow pine", "Pine, shortleaf"),
    ("yellow pine", "Pine, shortleaf"),
    ("redwood", "Redwood, old-growth"),
];

/// One row: name, kind, green gravity, gravity at 12 %, shrinkage and coefficient, each radial then tangential.
const fn wood(
    name: &'static str,
    kind: Kind,
    green_gravity: f64,
    gravity_at_12: Option<f64>,
    shrinkage: [f64; 2],
    coefficient: [f64; 2],
) -> Species {
    Species {
        name,
        kind,
        green_gravity,
        gravity_at_12,
        radial_shrinkage: shrinkage[0],
        tangential_shrinkage: shrinkage[1],
        radial_coefficient: coefficient[0],
        tangential_coefficient: coefficient[1],
        fibre_saturation: 30.0,
    }
}

/// A wood whose extractives put fibre saturation at 22 % (the coefficients of table 13-5 fit that figure, not 30 %).
const fn at_22(species: Species) -> Species {
    Species { fibre_saturation: 22.0, ..species }
}

static TABLE: [Species; 55] = [
    wood("Alder, red", Hard, 0.37, Some(0.41), [4.4, 7.3], [0.00151, 0.00256]),
    wood("Ash, black", Hard, 0.45, Some(0.49), [5.0, 7.8], [0.00172, 0.00274]),
    wood("Ash, green", Hard, 0.53, Some(0.56), [4.6, 7.1], [0.00169, 0.00274]),
    wood("Ash, white", Hard, 0.55, Some(0.6), [4.9, 7.8], [0.00169, 0.00274]),
    wood("Aspen, quaking", Hard, 0.35, Some(0.38), [3.5, 6.7], [0.00119, 0.00234]),
    wood("Basswood, American", Hard, 0.32, Some(0.37), [6.6, 9.3], [0.00230, 0.00330]),
    wood("Beech, American", Hard, 0.56, Some(0.64), [5.5, 11.9], [0.00190, 0.00431]),
    wood("Birch, paper", Hard, 0.48, Some(0.55), [6.3, 8.6], [0.00219, 0.00304]),
    wood("Birch, sweet", Hard, 0.6, Some(0.65), [6.5, 9.0], [0.00256, 0.00338]),
    wood("Birch, yellow", Hard, 0.55, Some(0.62), [7.3, 9.5], [0.00256, 0.00338]),
    wood("Butternut", Hard, 0.36, Some(0.38), [3.4, 6.4], [0.00116, 0.00223]),
    wood("Cherry, black", Hard, 0.47, Some(0.5), [3.7, 7.1], [0.00126, 0.00248]),
    wood("Chestnut, American", Hard, 0.4, Some(0.43), [3.4, 6.7], [0.00116, 0.00234]),
    wood("Cottonwood, eastern", Hard, 0.37, Some(0.4), [3.9, 9.2], [0.00133, 0.00327]),
    wood("Elm, American", Hard, 0.46, Some(0.5), [4.2, 9.5], [0.00144, 0.00338]),
    wood("Elm, rock", Hard, 0.57, Some(0.63), [4.8, 8.1], [0.00165, 0.00285]),
    wood("Elm, slippery", Hard, 0.48, Some(0.53), [4.9, 8.9], [0.00169, 0.00315]),
    wood("Hackberry", Hard, 0.49, Some(0.53), [4.8, 8.9], [0.00165, 0.00315]),
    wood("Hickory, pecan", Hard, 0.6, Some(0.66), [4.9, 8.9], [0.00169, 0.00315]),
    wood("Hickory, shagbark", Hard, 0.64, Some(0.72), [7.0, 10.5], [0.00259, 0.00411]),
    wood("Locust, black", Hard, 0.66, Some(0.69), [4.6, 7.2], [0.00158, 0.00252]),
    wood("Magnolia, cucumbertree", Hard, 0.44, Some(0.48), [5.2, 8.8], [0.00180, 0.00312]),
    wood("Maple, bigleaf", Hard, 0.44, Some(0.48), [3.7, 7.1], [0.00126, 0.00248]),
    wood("Maple, black", Hard, 0.52, Some(0.57), [4.8, 9.3], [0.00165, 0.00353]),
    wood("Maple, red", Hard, 0.49, Some(0.54), [4.0, 8.2], [0.00137, 0.00289]),
    wood("Maple, silver", Hard, 0.44, Some(0.47), [3.0, 7.2], [0.00102, 0.00252]),
    wood("Maple, sugar", Hard, 0.56, Some(0.63), [4.8, 9.9], [0.00165, 0.00353]),
    wood("Oak, northern red", Hard, 0.56, Some(0.63), [4.0, 8.6], [0.00158, 0.00369]),
    wood("Oak, black", Hard, 0.56, Some(0.61), [4.4, 11.1], [0.00158, 0.00369]),
    wood("Oak, California black", Hard, 0.51, Some(0.57), [3.6, 6.6], [0.00123, 0.00230]),
    wood("Oak, southern red", Hard, 0.52, Some(0.59), [4.7, 11.3], [0.00158, 0.00369]),
    wood("Oak, white", Hard, 0.6, Some(0.68), [5.6, 10.5], [0.00180, 0.00365]),
    wood("Oak, bur", Hard, 0.58, Some(0.64), [4.4, 8.8], [0.00180, 0.00365]),
    wood("Oak, swamp chestnut", Hard, 0.6, Some(0.67), [5.2, 10.8], [0.00180, 0.00365]),
    wood("Oak, overcup", Hard, 0.57, Some(0.63), [5.3, 12.7], [0.00183, 0.00462]),
    wood("Sassafras", Hard, 0.42, Some(0.46), [4.0, 6.2], [0.00137, 0.00216]),
    wood("Sweetgum", Hard, 0.46, Some(0.52), [5.3, 10.2], [0.00183, 0.00365]),
    wood("Sycamore, American", Hard, 0.46, Some(0.49), [5.0, 8.4], [0.00172, 0.00296]),
    wood("Tupelo, black", Hard, 0.46, Some(0.5), [5.1, 8.7], [0.00176, 0.00308]),
    wood("Walnut, black", Hard, 0.51, Some(0.55), [5.5, 7.8], [0.00190, 0.00274]),
    wood("Willow, black", Hard, 0.36, Some(0.39), [3.3, 8.7], [0.00112, 0.00308]),
    wood("Yellow-poplar", Hard, 0.4, Some(0.42), [4.6, 8.2], [0.00158, 0.00289]),
    wood("Mahogany, true (Swietenia)", Hard, 0.45, None, [3.0, 4.1], [0.00172, 0.00238]),
    wood("Mahogany, African (Khaya)", Hard, 0.42, None, [2.5, 4.5], [0.00141, 0.00201]),
    wood("Teak", Hard, 0.55, None, [2.5, 5.8], [0.00101, 0.00186]),
    wood("Baldcypress", Soft, 0.42, Some(0.46), [3.8, 6.2], [0.00130, 0.00216]),
    wood("Cedar, eastern redcedar", Soft, 0.44, Some(0.47), [3.1, 4.7], [0.00106, 0.00162]),
    at_22(wood("Cedar, western redcedar", Soft, 0.31, Some(0.32), [2.4, 5.0], [0.00111, 0.00234])),
    wood("Douglas-fir, coast", Soft, 0.45, Some(0.48), [4.8, 7.6], [0.00165, 0.00267]),
    wood("Fir, white", Soft, 0.37, Some(0.39), [3.3, 7.0], [0.00112, 0.00245]),
    wood("Pine, eastern white", Soft, 0.34, Some(0.35), [2.1, 6.1], [0.00071, 0.00212]),
    wood("Pine, ponderosa", Soft, 0.38, Some(0.4), [3.9, 6.2], [0.00133, 0.00216]),
    wood("Pine, shortleaf", Soft, 0.47, Some(0.51), [4.6, 7.7], [0.00158, 0.00271]),
    wood("Pine, sugar", Soft, 0.34, Some(0.36), [2.9, 5.6], [0.00099, 0.00194]),
    at_22(wood("Redwood, old-growth", Soft, 0.38, Some(0.4), [2.6, 4.4], [0.00120, 0.00205])),
];
