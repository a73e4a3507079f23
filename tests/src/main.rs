//! Whole-program tests: the real binary, judged by readers and libraries outside the project.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test says what is wrong by panicking"
)]

mod bad_input;
mod calibrate;
mod check;
mod crash;
mod disk;
mod edges;
mod fuzz;
mod mend;
mod onebit;
mod pages;
mod paper;
mod photos;
mod pictures;
mod plan;
mod plates;
mod screens;
mod shop;
mod supply;
mod tone;
mod trim;
mod turn;
mod util;
mod window;
