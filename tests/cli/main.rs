//! The whole program through its binary, each test in a fresh folder.

mod files;
mod fill;
#[cfg(unix)]
mod interrupt;
mod plan;
mod quote;
mod scratch;
