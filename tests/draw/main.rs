//! Drawings of plans: what is on the sheets and where, and the files they become.
//!
//! The plans are made by hand (`plans`); no optimiser takes part.

mod files;
mod plans;
mod sheets;
