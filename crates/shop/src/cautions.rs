use crate::Source;

/// A caution in plain words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Caution {
    /// What it is about.
    pub hazard: Hazard,
    /// The caution.
    pub text: &'static str,
    /// What stands behind it.
    pub source: Source,
}

/// What can hurt somebody.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Hazard {
    /// Ultraviolet and bright light.
    Light,
    /// Mains electricity.
    Mains,
    /// Sheets of glass.
    Glass,
    /// Saws and drills.
    Saws,
    /// Knives and staples.
    Blades,
    /// Inks, emulsions, removers.
    Chemicals,
    /// What goes down the drain.
    WasteWater,
    /// Heat guns, presses, dryers.
    Heat,
    /// Large frames and kneeling work.
    Lifting,
}

impl Hazard {
    /// The hazard in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Light => "Lamps",
            Self::Mains => "Mains",
            Self::Glass => "Glass",
            Self::Saws => "Saws",
            Self::Blades => "Blades and staples",
            Self::Chemicals => "Chemicals",
            Self::WasteWater => "Waste water",
            Self::Heat => "Heat",
            Self::Lifting => "Large frames",
        }
    }
}

/// What overrides everything that this program says.
pub const DEFER: &str = "Local codes, the makers' data sheets and licensed trades override this \
    plan. Where you are unsure, stop and ask someone qualified.";

const fn caution(hazard: Hazard, source: Source, text: &'static str) -> Caution {
    Caution { hazard, text, source }
}

const LAMPS: Source = Source::Published("IEC 62471:2006, IEC 62471-6:2022; 2006/25/EC Annex I");

/// All cautions, each where its work comes up.
pub const CAUTIONS: [Caution; 9] = [
    caution(
        Hazard::Light,
        LAMPS,
        "Do not look at the lit exposure lamp; enclose it, or wear eyewear rated for its \
         wavelengths and cover your skin. Ask the lamp's maker for its risk group by IEC 62471.",
    ),
    caution(
        Hazard::Mains,
        Source::Practice,
        "Use a listed power supply and residual-current protection, and keep water away from the \
         lamp. Have a qualified electrician check any wiring you change.",
    ),
    caution(
        Hazard::Glass,
        Source::Practice,
        "Lift large glass with gloves and help, and tape or grind its edges. Never lean on it.",
    ),
    caution(
        Hazard::Saws,
        Source::Practice,
        "Keep the guard on the saw, clamp the wood, and wear eye, ear and dust protection; no \
         gloves at a turning blade.",
    ),
    caution(
        Hazard::Blades,
        Source::Practice,
        "Cut film and mesh away from yourself, retract the knife when you put it down, and wear \
         eye protection when stapling and pulling staples.",
    ),
    caution(
        Hazard::Chemicals,
        Source::Practice,
        "Read the safety data sheet of every ink, emulsion, hardener and remover; wear suitable \
         gloves (commonly nitrile) and eye protection, ventilate, and keep food away.",
    ),
    caution(
        Hazard::WasteWater,
        Source::Trade("public screen-printing guides for waste water"),
        "Ask the local sewer authority before any ink, emulsion or remover goes down a drain; \
         \"biodegradable\" on a label does not settle it. Scrape ink back into its tub first.",
    ),
    caution(
        Hazard::Heat,
        Source::Practice,
        "Heat can burn you, scorch cloth and drive off steam and fumes: ventilate, test on a scrap, \
         and never leave a heater, dryer or press unattended.",
    ),
    caution(
        Hazard::Lifting,
        Source::Practice,
        "Lift a large screen with two people, and pad your knees when you print on the floor.",
    ),
];

/// The cautions about these hazards, in the order of [`CAUTIONS`].
pub fn cautions(about: &[Hazard]) -> Vec<Caution> {
    CAUTIONS.iter().copied().filter(|c| about.contains(&c.hazard)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_hazard_has_its_caution() {
        use Hazard::*;
        let all = [Light, Mains, Glass, Saws, Blades, Chemicals, WasteWater, Heat, Lifting];
        for hazard in all {
            assert_eq!(cautions(&[hazard]).len(), 1, "{hazard:?}");
        }
        assert_eq!(cautions(&all).len(), CAUTIONS.len());
        for c in CAUTIONS {
            assert!(c.text.ends_with('.') && !c.text.contains("  "), "{}", c.text);
        }
    }
}
