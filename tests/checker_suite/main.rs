//! The independent checker under test: lawful plans pass, planted faults are caught, nothing makes it panic.

mod faults;
mod lawful;
mod mutations;
mod rules;
mod saw;
mod support;
mod workshop;
