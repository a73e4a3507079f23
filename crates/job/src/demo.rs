use crate::{Job, PictureFile};
use garment::Garment;
use measure::Length;
use std::sync::Arc;

/// The demo: a small picture of a made-up stall's sign, to be printed over a whole tee.
pub fn demo() -> Job {
    let bytes: &[u8] = include_bytes!("../../../assets/demo/lantern-moth.png");
    Job {
        title: "Lantern Moth dumplings".into(),
        picture: Some(PictureFile { name: "lantern-moth.png".into(), bytes: Arc::from(bytes) }),
        garment: Garment::named("tee-2xl"),
        width: Length::inches(42.0),
        ..Job::default()
    }
}
