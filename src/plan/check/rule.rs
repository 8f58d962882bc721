//! The rules the checker knows: one variant each, with a stable short code and a one-line meaning.
//!
//! Nothing is decided here. A code, once published, keeps its meaning; a new rule gets a new code.

macro_rules! rules {
    ($($name:ident, $code:literal, $meaning:literal;)*) => {
        /// A rule that a plan must keep.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Rule {
            $(#[doc = $meaning] $name,)*
        }

        impl Rule {
            /// Every rule, in the order of the contract.
            pub const ALL: &'static [Rule] = &[$(Rule::$name,)*];

            /// The stable short code: `kerf`, `stock-twice`.
            pub const fn code(self) -> &'static str {
                match self { $(Rule::$name => $code,)* }
            }

            /// What the rule asks, in one line.
            pub const fn meaning(self) -> &'static str {
                match self { $(Rule::$name => $meaning,)* }
            }
        }
    };
}

rules! {
    Format, "format", "the plan names the format that this version writes";
    Units, "units", "the plan is written in the units of its job";
    Absurd, "absurd-length", "no length in a plan is beyond a thousand kilometres";

    StockUnknown, "stock-unknown", "every piece of stock is in the pile";
    StockKind, "stock-kind", "a piece of stock is used as what it is: board, sheet or stick";
    StockCopy, "stock-copy", "a piece of stock is one of the equal pieces at hand";
    StockTwice, "stock-twice", "no piece of stock is used twice";
    StockIdle, "stock-idle", "something is made from every piece of stock that is cut";
    StockCost, "stock-cost", "a piece of stock costs what the pile says, by its tally";
    RootRectangle, "root-rectangle", "the cut tree starts from the whole piece of stock";

    NodeSize, "node-size", "every rectangle has a length and a width";
    ChildOutside, "child-outside", "a child lies inside its parent";
    ChildOrder, "child-order", "children ascend and do not overlap";
    Kerf, "kerf", "neighbours are at least the kerf of their cut apart";
    CutKind, "cut-kind", "a parted node says how it is parted, in the direction its role asks";
    Role, "role", "every node has a role that its kind of stock has at that place";
    Span, "span", "a section or a strip spans its parent from edge to edge";
    StripEdge, "strip-edge", "every blank lies on its strip's reference edge";
    NodeFields, "node-fields", "a node carries what its role needs and nothing else";

    BoardEnd, "board-end", "sections keep out of the dirty ends of a board";
    SectionEdge, "section-edge", "blanks keep off the edges that crook and edge trims take";
    Snipe, "snipe", "blanks keep off the sniped ends of a planed section";
    MinLength, "min-length", "a planed section is not shorter than the machine's minimum";
    MinRip, "min-rip-length", "nothing shorter than the machine's minimum is ripped";
    JointerWidth, "jointer-width", "a strip flattened by itself is no wider than the jointer";
    PlanerWidth, "planer-width", "nothing wider than the planer is planed";
    Thickness, "thickness", "the board, flattened and less face allowances, holds the planed thickness";
    ResawHeight, "resaw-height", "a resawn blank is no wider than the resaw height";
    ResawLeaves, "resaw-leaves", "a resawn blank has two or more leaves, all of its own blank size";
    ResawSum, "resaw-sum", "the flattened thickness holds the leaves, their allowances and kerfs";
    Defects, "defects", "no defect that the part's faces refuse meets its net rectangle";

    PartUnknown, "part-unknown", "every blank is for a part of the job";
    CopyRange, "copy-range", "every blank is for a copy that was asked for";
    PieceTwice, "piece-twice", "no piece is made twice";
    BlankSize, "blank-size", "a blank is the finished size with tenons and allowances";
    NetPlace, "net", "the net rectangle has the finished size and sits in the middle of its blank";
    Wood, "wood", "a blank is of the species or material that its part asks for";
    Rings, "rings", "a part that lists rings comes from a board that has them";
    PlanedThickness, "planed-thickness", "a stated planed thickness is the one that the part needs";

    SheetTrim, "sheet-trim", "blanks keep the trim off the edges of a sheet";
    SheetStages, "sheet-stages", "a sheet is cut in no more stages than the shop allows";
    SheetThickness, "sheet-thickness", "a sheet is within 1/64 in of the part's thickness";
    Grain, "grain", "a sheet part lies to the face grain as asked, and only sheet parts are turned";
    StickTrim, "stick-trim", "blanks keep the trim off the ends of a stick";
    StickSection, "stick-section", "a stick's section is the part's";

    LayerCount, "layer-count", "a lamination has as many layers as stated and no more than the shop glues";
    LayerNumbers, "layer-numbers", "each layer of a copy is made once, numbered from 1";
    LayerThickness, "layer-thickness", "all layers of a part have one thickness and together reach the part's";
    StaveNumbers, "stave-numbers", "each stave of a copy is made once, numbered from 1";
    StaveWidth, "stave-width", "a stave's net width is within its limits and on the rip step";
    StaveEqual, "stave-equal", "staves that must be equal are";
    StaveSum, "stave-sum", "staves add up to the panel and its width allowance";
    PanelBoards, "panel-boards", "a panel comes from no more boards than it may";
    GlueMissing, "glueup-missing", "every glued copy has exactly one glue-up entry";
    GlueUnknown, "glueup-unknown", "a glue-up entry is for a copy that is glued that way";
    GlueMembers, "glueup-members", "a glue-up entry lists every blank of its copy exactly once";
    GlueNetWidth, "glueup-net-width", "a stave's net width in its entry is the blank's";
    GlueSize, "glueup-size", "a glue-up's sizes as glued and as trimmed, and the width between them, follow from its members";
    GlueJoints, "glueup-joints", "a glue-up's joints, glue area and clamps follow from its members and the shop";
    GlueMovement, "glueup-movement", "a glue-up moves as its boards' rings say, from the shop's moisture, least when dry";
    FaceUp, "face-up", "the face that shows is as clear as the part asks";

    MatchBroken, "match-broken", "matched pieces that may not be broken keep their rule";
    MatchPartly, "match-partly", "a matched group that may not be broken is made whole or not at all";
    BrokenCost, "broken-cost", "the cost of broken matches is the worth of those broken";

    ShortageRow, "shortage-row", "a shortage is of a part of the job, listed once, with a reason and what to buy";
    ShortageCount, "shortage-count", "every copy is made or listed as missing";
    PiecesRequired, "pieces-required", "the copies asked for are those of the job";
    PiecesPlaced, "pieces-placed", "the copies made are those in the trees";
    Status, "status", "the plan is complete exactly when every copy is made";

    OffcutSize, "offcut-size", "an offcut is large enough to keep";
    CreditUnearned, "credit-unearned", "only an offcut that may earn credit has any";
    OffcutCredit, "offcut-credit", "an offcut's credit is its sound area at the shop's share of the cost";
    StockCredit, "stock-credit", "a piece of stock is credited with its offcuts";
    OffcutRow, "offcut-row", "the list of offcuts agrees with the trees";

    Cost, "cost", "the cost is stock and broken matches less credit";
    Bound, "bound", "the bound is not above the cost";
    Gap, "gap", "the gap is (cost - bound) / cost";
    Proven, "proven", "proven is said exactly when the gap is closed";
    Stop, "stop", "a search that ended as proven has proven its plan";

    CutNumbers, "cut-numbers", "cuts are numbered from 1, each number once";
    CutStock, "cut-stock", "a cut is in a piece of stock of the plan and inside it";
    CutStation, "cut-station", "a cut is made at a station for its stock and direction";
    CutKerf, "cut-kerf", "a cut takes no more than its kerf";
    CutThrough, "cut-through", "no cut goes through a blank or an offcut";
    CutAbsent, "cut-absent", "every side that must be sawn is sawn to size";
    CutTwice, "cut-twice", "each kerf is sawn once";
    CutSetting, "cut-setting", "a cut's setting is the size it brings a piece to";
    WorkRows, "work-rows", "the work lists name the cuts and the stock of the plan, at their settings";
}
