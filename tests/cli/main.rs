//! The whole program through its binary, each test in a fresh folder.

mod files;
mod fill;
mod grade;
#[cfg(unix)]
mod interrupt;
mod order;
mod plan;
mod quote;
mod readme;
mod scratch;
