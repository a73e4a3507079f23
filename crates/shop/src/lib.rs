//! What a shop reckons around a film: mesh, frame, lumber, exposure, lay-down,
//! strokes, ink, cost, time.
//!
//! Everything is a pure function of plain, editable values. Each result is a
//! [`Figure`] that can say how it came out and from which source; each default
//! is a [`Field`] with its range and source. Lengths are [`measure::Length`];
//! times are in seconds, areas in m², volumes in ml, masses in g, as the names say.
//! [`reckon()`] makes the whole plan of a job; only [`Shop`] and [`Notebook`] touch the disk.

mod cautions;
mod cost;
mod cutting;
mod diagnosis;
mod drawing;
mod error;
mod exposure;
mod figure;
mod frame;
mod halftone;
mod ink;
mod keep;
mod lamp;
mod laydown;
mod lumber;
mod mesh;
mod notebook;
mod parts;
mod reckon;
mod screens;
mod settings;
mod shop;
mod simplex;
mod squeegee;
mod strip;
mod timeline;

pub use cautions::{CAUTIONS, Caution, DEFER, Hazard, cautions};
pub use cost::{CostSettings, Takes, break_even, fixed_and_each};
pub use diagnosis::{Diagnosis, Seen, diagnose, diagnoses};
pub use drawing::{Anchor, Drawing, Pen, Shape, Tones};
pub use error::Error;
pub use exposure::{
    ExposureSettings, density, fresnel, seam_factor, through_sheets, time_by_wedge, time_elsewhere,
    time_for_both, time_for_density, time_from_wedge, transmittance, undercut_in_air,
    undercut_in_film, wedge_factor,
};
pub use figure::{Figure, Quantity, Section, Source};
pub use frame::{
    Fit, FramePlan, FrameSettings, Joint, ShelfFrame, fit, frame_around, pieces_from_roll,
    plan_frame,
};
pub use halftone::{levels, moire_period, worst_moire};
pub use ink::{InkSettings, ml_per_garment, take_up_by_weight};
pub use lamp::{Lamp, LampKind};
pub use laydown::{Align, GarmentSize, LaydownSettings, Lie, lay};
pub use lumber::{Board, BoardCut, CutPlan, DRESSED, LumberSettings, Piece, cut, nominal};
pub use mesh::{Mesh, MeshSettings, choose_mesh, common_meshes};
pub use notebook::{Entry, Notebook, Observation, Proposal};
pub use parts::{DoseMap, Exposure, Parts, PartsSettings, Rest, dose_map, parts_along, plan_parts};
pub use reckon::{JobFacts, Reckoning, ShopSettings, reckon};
pub use screens::all_screens;
pub use settings::{Choice, Field, FieldValue, Settings};
pub use shop::Shop;
pub use squeegee::{SqueegeeSettings, Stroke, Strokes, strokes};
pub use strip::{Reading, Strip, StripSettings, plan_strip, read_strip, strip_secs};
pub use timeline::{Counts, Per, Placed, Step, common_steps, hands_by_step, schedule};
