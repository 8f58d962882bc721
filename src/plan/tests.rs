//! Plans of small hand-made cases: every figure in them was worked out by hand.
//!
//! `bench` builds the cases; the other files ask one kind of question each.

mod bench;
mod figures;
mod files;
mod lawful;
mod order;
mod pieces;
mod remarks;
mod trees;
