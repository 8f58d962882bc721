//! A thin door to the library: what was typed becomes settings, settings become calls, answers become text.

pub mod sample;
