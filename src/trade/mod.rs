//! Facts and rules of the trade: species, thicknesses, board feet, wood movement, weight, safety figures.
//!
//! Tables and the arithmetic that goes with them, each with its source. Imports only `measure`; which board or part a
//! fact is applied to is decided by the modules that ask.
