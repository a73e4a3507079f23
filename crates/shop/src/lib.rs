//! What a shop reckons around a film: mesh, frame, lumber, exposure, lay-down,
//! strokes, ink, cost, time.
//!
//! Everything is a pure function of plain, editable values. Each result is a
//! [`Figure`] that can say how it came out and from which source; each default
//! is a [`Field`] with its range and source. Lengths are [`measure::Length`];
//! times are in seconds, areas in m², volumes in ml, masses in g, as the names say.

mod cutting;
mod drawing;
mod error;
mod exposure;
mod figure;
mod frame;
mod lamp;
mod lumber;
mod mesh;
mod parts;
mod settings;
mod simplex;

pub use drawing::{Anchor, Drawing, Pen, Shape};
pub use error::Error;
pub use exposure::{
    ExposureSettings, density, fresnel, seam_factor, through_sheets, time_for_both, time_from_wedge,
    transmittance, undercut_in_air, undercut_in_film, wedge_factor,
};
pub use figure::{Figure, Quantity, Section, Source};
pub use frame::{
    Fit, FramePlan, FrameSettings, Joint, ShelfFrame, fit, frame_around, pieces_from_roll, plan_frame,
};
pub use lamp::{Lamp, LampKind};
pub use lumber::{Board, BoardCut, CutPlan, LumberSettings, Piece, cut, dressed};
pub use mesh::{Mesh, MeshSettings, MeshSheet, choose_mesh, common_meshes};
pub use parts::{
    DoseMap, Exposure, Parts, PartsSettings, Rest, dose_map, parts_along, plan_parts,
};
pub use settings::{Choice, Field, FieldValue, Settings};
