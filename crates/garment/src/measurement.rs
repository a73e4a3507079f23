use serde::{Deserialize, Serialize};

/// A length that describes a garment laid flat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measurement {
    /// Half the chest.
    Chest,
    /// Shoulder to hem.
    Length,
    /// Seam to seam across the shoulders.
    Shoulder,
    /// How far the shoulder seam falls.
    ShoulderDrop,
    /// Sleeve along its upper edge.
    Sleeve,
    /// Sleeve opening.
    Cuff,
    /// Depth of the armhole.
    Armhole,
    /// Width of the neckline.
    NeckWidth,
    /// Depth of the front neckline.
    NeckFront,
    /// Depth of the back neckline.
    NeckBack,
    /// Width of a strap at the shoulder.
    Strap,
    /// Width of the hood.
    HoodWidth,
    /// Height of the hood.
    HoodHeight,
    /// Width of the piece.
    Width,
    /// Height of the piece.
    Height,
    /// Half the waist.
    Waist,
    /// Width of the leg at the crotch.
    Thigh,
    /// Width of the leg's opening.
    LegOpening,
    /// Waist to crotch.
    Rise,
    /// Crotch to leg opening.
    Inseam,
}

impl Measurement {
    /// What the number is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Chest => "half chest",
            Self::Length => "length",
            Self::Shoulder => "shoulder width",
            Self::ShoulderDrop => "shoulder drop",
            Self::Sleeve => "sleeve",
            Self::Cuff => "cuff",
            Self::Armhole => "armhole",
            Self::NeckWidth => "neck width",
            Self::NeckFront => "front neck depth",
            Self::NeckBack => "back neck depth",
            Self::Strap => "strap",
            Self::HoodWidth => "hood width",
            Self::HoodHeight => "hood height",
            Self::Width => "width",
            Self::Height => "height",
            Self::Waist => "half waist",
            Self::Thigh => "thigh",
            Self::LegOpening => "leg opening",
            Self::Rise => "rise",
            Self::Inseam => "inseam",
        }
    }

    /// Where to lay the tape.
    pub const fn explanation(self) -> &'static str {
        match self {
            Self::Chest => "straight across, from armpit to armpit",
            Self::Length => "straight down, from the collar's highest point to the hem",
            Self::Shoulder => "straight across, from shoulder seam to shoulder seam",
            Self::ShoulderDrop => {
                "how much lower the shoulder seam lies than the collar's highest point"
            }
            Self::Sleeve => "along the upper edge, from the shoulder seam to the cuff",
            Self::Cuff => "across the sleeve's opening",
            Self::Armhole => "straight down, from the shoulder seam to the armpit",
            Self::NeckWidth => "straight across the neckline at its top",
            Self::NeckFront => {
                "straight down, from the collar's highest point to the front neckline"
            }
            Self::NeckBack => "straight down, from the collar's highest point to the back neckline",
            Self::Strap => "across one strap at the shoulder",
            Self::HoodWidth => "straight across the hood laid flat",
            Self::HoodHeight => "straight up, from the collar's highest point to the hood's top",
            Self::Width => "straight across",
            Self::Height => "straight down",
            Self::Waist => "straight across the waistband",
            Self::Thigh => "straight across one leg at the crotch",
            Self::LegOpening => "straight across the leg's lower opening",
            Self::Rise => "straight down, from the waistband to the crotch",
            Self::Inseam => "straight down, from the crotch to the leg's lower opening",
        }
    }
}
