/// What a washed-out screen or a print shows, why, and what to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Diagnosis {
    /// What is seen.
    pub seen: &'static str,
    /// The likeliest reason.
    pub because: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

/// What was seen on the test strip or screen after washing out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Seen {
    /// The coating that should stay washed away or went slimy.
    pub stencil_soft: bool,
    /// Fine gaps that should open stayed closed.
    pub detail_closed: bool,
    /// Only the overlaps of the film went soft.
    pub seams_soft: bool,
    /// Only the middle, or only the corners, behave differently.
    pub uneven: bool,
    /// Small holes where there should be none.
    pub pinholes: bool,
}

const SOFT: Diagnosis = Diagnosis {
    seen: "The coating that should stay washes away or feels slimy on the inside.",
    because: "Too little light reached the bottom of the coating, or it was not dry.",
    remedy: "Dry longer, then lengthen the exposure by two wedge steps and test again.",
};
const CLOSED: Diagnosis = Diagnosis {
    seen: "Fine gaps do not open although the solid areas hold.",
    because: "Too much light, a black that leaks, or light creeping under the film's edges.",
    remedy: "Check the black against the lamp, press the film flat, printed side to the emulsion, \
             then shorten by one wedge step.",
};
const BOTH: Diagnosis = Diagnosis {
    seen: "The coating washes away and fine gaps stay closed.",
    because: "The black leaks or the light spreads; no time can serve both.",
    remedy: "Print a denser film, close gaps between film and emulsion, raise the lamp; only then \
             look for a time.",
};
const SEAMS: Diagnosis = Diagnosis {
    seen: "Only strips along the film's overlaps wash away.",
    because: "Two layers of film took more light than the emulsion forgives.",
    remedy: "Use the time for both from the exposure plan, or cover the rest and give the overlaps \
             more; narrower overlaps and clearer film help.",
};
const UNEVEN: Diagnosis = Diagnosis {
    seen: "The middle holds and the corners wash away.",
    because: "The lamp is too near for the screen: corners get much less light.",
    remedy: "Raise the lamp and make a new test strip, or expose in parts.",
};
const PINHOLES: Diagnosis = Diagnosis {
    seen: "Small holes in areas that should be closed.",
    because: "Dust on film or glass, bubbles in the coating, or a mesh not degreased.",
    remedy: "Clean glass and film, degrease and coat again next time; block the holes out now.",
};
const CLEAN: Diagnosis = Diagnosis {
    seen: "Solid areas hold and fine gaps open.",
    because: "Time and film suit each other.",
    remedy: "Write the time down in the notebook.",
};
const OTHERS: [Diagnosis; 6] = [
    Diagnosis {
        seen: "Nothing washes out.",
        because: "The coating was lit before, dried too hot, or was exposed far too long.",
        remedy: "Coat and dry in yellow light and below 40 \u{b0}C (the data sheet governs), then test.",
    },
    Diagnosis {
        seen: "Edges look like saw teeth.",
        because: "The mesh is too coarse for the line, or the coating too thin.",
        remedy: "Take a finer mesh or one more coat on the print side.",
    },
    Diagnosis {
        seen: "A thin closed line runs along a film seam.",
        because: "A film edge or tape cast a shadow, or the sheets jog.",
        remedy: "Tape outside the art with clear tape, check the seam against the light, and open \
                 the line before drying or touch up the film.",
    },
    Diagnosis {
        seen: "A darker or thicker stripe of ink on the print.",
        because: "Two strokes of the squeegee overlap there.",
        remedy: "Use a longer blade, or lighten the second stroke and lay its edge along a dark shape.",
    },
    Diagnosis {
        seen: "The stencil breaks down while printing.",
        because: "Too little light, or an emulsion that water-based ink dissolves.",
        remedy: "Lengthen the exposure, harden after washing if the data sheet says so, or change emulsion.",
    },
    Diagnosis {
        seen: "The print washes off the garment.",
        because: "The ink was not cured through.",
        remedy: "Drive the water out first, then hold the cure temperature in the ink itself for its \
                 whole time; test by washing.",
    },
];

/// The whole table. Common practice, no source.
pub fn diagnoses() -> Vec<Diagnosis> {
    let mut all = vec![CLEAN, SOFT, CLOSED, BOTH, SEAMS, UNEVEN, PINHOLES];
    all.extend(OTHERS);
    all
}

/// What fits what was seen, the first to be mended first.
pub fn diagnose(seen: Seen) -> Vec<Diagnosis> {
    let mut found = Vec::new();
    if seen.uneven {
        found.push(UNEVEN);
    }
    match (seen.stencil_soft, seen.detail_closed) {
        (true, true) => found.push(BOTH),
        (true, false) => found.push(SOFT),
        (false, true) => found.push(CLOSED),
        (false, false) => {}
    }
    if seen.seams_soft && !seen.stencil_soft {
        found.push(SEAMS);
    }
    if seen.pinholes {
        found.push(PINHOLES);
    }
    if found.is_empty() {
        found.push(CLEAN);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_seen_leads_to_what_to_do() {
        let seen = |stencil_soft, detail_closed, seams_soft| Seen {
            stencil_soft,
            detail_closed,
            seams_soft,
            ..Seen::default()
        };
        let cases = [
            (seen(false, false, false), CLEAN),
            (seen(true, false, false), SOFT),
            (seen(false, true, false), CLOSED),
            (seen(true, true, false), BOTH),
            (seen(false, false, true), SEAMS),
            (seen(true, false, true), SOFT),
        ];
        for (seen, expected) in cases {
            assert_eq!(diagnose(seen), [expected], "{seen:?}");
        }
        assert_eq!(diagnose(Seen { uneven: true, pinholes: true, ..Seen::default() }).len(), 2);
    }

    #[test]
    fn every_row_is_whole_sentences() {
        for d in diagnoses() {
            for text in [d.seen, d.because, d.remedy] {
                assert!(text.ends_with('.') && !text.contains("  "), "{text:?}");
            }
        }
    }
}
