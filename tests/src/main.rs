//! Whole-program tests: the real binary, judged by readers and libraries outside the project.

mod bad_input;
mod onebit;
mod pages;
mod util;
