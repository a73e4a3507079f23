//! Tone on film: a grey picture becomes dots, noise or diffused grain at film resolution.
//!
//! A *share of ink* is 1 - grey / 255: 0 is bare film, 1 solid. [`Tones`] holds a picture's
//! shares and is read smoothly at any enlargement. [`Screened`] is a film of dots or noise,
//! given out row by row; it is anchored at the film's top-left corner, so that any part of
//! it is the same whatever sheet it lands on. [`diffuse`] makes a film by error diffusion.
//!
//! Film pixels are counted from the top-left; angles turn clockwise, since y runs down.

mod bayer;
mod curve;
mod diffuse;
mod dot;
mod error;
mod hold;
mod mixed;
mod moire;
mod noise;
mod propose;
mod screen;
mod tonal;
mod tones;

pub use bayer::bayer;
pub use curve::{Curve, murray_davies, yule_nielsen};
pub use diffuse::diffuse;
pub use dot::Dot;
pub use error::ToneError;
pub use hold::Hold;
pub use mixed::Mixed;
pub use moire::{Moire, moire};
pub use noise::blue_noise;
pub use propose::{Proposal, levels, propose};
pub use screen::{Screen, Screened};
pub use tonal::TonalMask;
pub use tones::Tones;
