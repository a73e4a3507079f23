//! Every command of the window, once: its name, what it does, and its keys. The menus, the
//! keyboard and the command search all read this list.

use crate::step::Step;
use eframe::egui::{Key, KeyboardShortcut, Modifiers};

/// Something a printer can tell the window to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Command {
    NewJob,
    Open,
    OpenDemo,
    ReplaceArtwork,
    PasteArtwork,
    Save,
    SaveAs,
    Export,
    ExportSizes,
    Ticket,
    OpenFolder,
    Quit,
    Undo,
    Redo,
    Invert,
    CropByHand,
    UncropArtwork,
    PickInk,
    CentreArtwork,
    FitToGarment,
    QuarterTurn,
    Upright,
    NextFine,
    PreviousFine,
    MendThis,
    MendAll,
    MendNothing,
    PinAll,
    UnpinAll,
    AddSheet,
    RemoveSheet,
    Taping,
    CheckFilm,
    CheckScreen,
    NextSpot,
    PreviousSpot,
    TurnSheet,
    PinSheet,
    Fit,
    ZoomIn,
    ZoomOut,
    TrueSize,
    Calibrate,
    Rulers,
    Snapping,
    Wipe,
    NextUnit,
    LargerText,
    SmallerText,
    UsualText,
    Day,
    Night,
    AsSystem,
    Go(Step),
    Commands,
    Walk,
    Stop,
}

/// The menu a command is listed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Menu {
    Job,
    Change,
    Sheets,
    View,
    Help,
}

impl Menu {
    pub(crate) const ALL: [Self; 5] =
        [Self::Job, Self::Change, Self::Sheets, Self::View, Self::Help];

    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Job => "Job",
            Self::Change => "Change",
            Self::Sheets => "Sheets",
            Self::View => "View",
            Self::Help => "Help",
        }
    }
}

/// What is known about a command.
pub(crate) struct Info {
    pub(crate) command: Command,
    pub(crate) menu: Menu,
    pub(crate) name: &'static str,
    pub(crate) tip: &'static str,
    pub(crate) keys: Option<KeyboardShortcut>,
}

const CTRL: Modifiers = Modifiers::COMMAND;
const SHIFT_CTRL: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);
const PLAIN: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const ALT: Modifiers = Modifiers::ALT;

const fn info(
    command: Command,
    menu: Menu,
    name: &'static str,
    tip: &'static str,
    keys: Option<(Modifiers, Key)>,
) -> Info {
    let keys = match keys {
        Some((modifiers, key)) => Some(KeyboardShortcut::new(modifiers, key)),
        None => None,
    };
    Info { command, menu, name, tip, keys }
}

/// All commands, in the order of the menus.
pub(crate) const ALL: &[Info] = &{
    use Command::*;
    use Menu::*;
    [
        info(NewJob, Job, "New job", "Start again with an empty table", Some((CTRL, Key::N))),
        info(Open, Job, "Open…", "Open a saved job or a picture", Some((CTRL, Key::O))),
        info(OpenDemo, Job, "Open the demo job", "A night-market design to try things on", None),
        info(
            ReplaceArtwork,
            Job,
            "Replace the artwork…",
            "Try another picture and keep all else",
            Some((SHIFT_CTRL, Key::O)),
        ),
        info(
            PasteArtwork,
            Job,
            "Paste a picture",
            "Take the picture on the clipboard as the artwork",
            Some((SHIFT_CTRL, Key::V)),
        ),
        info(
            Save,
            Job,
            "Save the job",
            "Keep the job and its artwork in one file",
            Some((CTRL, Key::S)),
        ),
        info(
            SaveAs,
            Job,
            "Save the job as…",
            "Keep it under another name",
            Some((SHIFT_CTRL, Key::S)),
        ),
        info(
            Export,
            Job,
            "Write the films…",
            "Write film.pdf and plan.json into a folder",
            Some((CTRL, Key::E)),
        ),
        info(
            ExportSizes,
            Job,
            "Write several sizes…",
            "Write the films of this job for several garment sizes",
            Some((SHIFT_CTRL, Key::E)),
        ),
        info(
            Ticket,
            Job,
            "Write the job ticket",
            "Write ticket.pdf, the shop's whole plan on paper, into the films' folder",
            Some((CTRL, Key::T)),
        ),
        info(
            OpenFolder,
            Job,
            "Show the written films",
            "Open the folder the films were written to",
            None,
        ),
        info(
            Quit,
            Job,
            "Quit",
            "Close the window; unsaved changes are asked about",
            Some((CTRL, Key::Q)),
        ),
        info(Undo, Change, "Undo", "Take the last change back", Some((CTRL, Key::Z))),
        info(Redo, Change, "Redo", "Make the change again", Some((SHIFT_CTRL, Key::Z))),
        info(
            Invert,
            Change,
            "Exchange black and white",
            "Print what is clear now, and leave clear what is ink",
            Some((CTRL, Key::I)),
        ),
        info(
            CropByHand,
            Change,
            "Crop by hand",
            "Show the whole picture and drag its edges in",
            Some((CTRL, Key::K)),
        ),
        info(UncropArtwork, Change, "Use the whole picture", "Take the crop away", None),
        info(
            PickInk,
            Change,
            "Pick an ink from the picture",
            "Click a place of the artwork: its colour becomes an ink of its own",
            None,
        ),
        info(
            CentreArtwork,
            Change,
            "Centre the artwork",
            "Put the artwork's middle on the garment's",
            None,
        ),
        info(
            FitToGarment,
            Change,
            "Cover the garment",
            "Make the artwork just wide and high enough to cover the garment and its bleed",
            None,
        ),
        info(
            QuarterTurn,
            Change,
            "Turn the artwork a quarter",
            "A quarter turn clockwise; the handle above the artwork turns it by any angle",
            Some((SHIFT_CTRL, Key::T)),
        ),
        info(Upright, Change, "Lay the artwork upright", "Take its turn away", None),
        info(
            NextFine,
            Change,
            "Next fine place",
            "Look at the next line or gap too fine for the mesh",
            Some((PLAIN, Key::F3)),
        ),
        info(
            PreviousFine,
            Change,
            "Previous fine place",
            "Look at the one before",
            Some((SHIFT, Key::F3)),
        ),
        info(
            MendThis,
            Change,
            "Mend this place",
            "Widen the line, or the gap, until the mesh holds it",
            Some((CTRL, Key::M)),
        ),
        info(
            MendAll,
            Change,
            "Mend every fine place",
            "Widen every line and gap until the mesh holds it",
            Some((SHIFT_CTRL, Key::M)),
        ),
        info(
            MendNothing,
            Change,
            "Mend nothing",
            "Put every line and gap back as the artwork has it",
            None,
        ),
        info(PinAll, Sheets, "Pin every sheet", "Keep all sheets where they lie now", None),
        info(
            UnpinAll,
            Sheets,
            "Let every sheet go",
            "Let the planner place every sheet again",
            None,
        ),
        info(
            PinSheet,
            Sheets,
            "Pin or let go this sheet",
            "A pinned sheet stays; the planner completes the rest",
            Some((CTRL, Key::P)),
        ),
        info(
            TurnSheet,
            Sheets,
            "Turn this sheet",
            "Lay the chosen sheet the other way",
            Some((CTRL, Key::R)),
        ),
        info(AddSheet, Sheets, "Add a sheet", "Lay one more sheet in the middle of the view", None),
        info(
            RemoveSheet,
            Sheets,
            "Remove this sheet",
            "Take the chosen pinned sheet away",
            Some((PLAIN, Key::Delete)),
        ),
        info(
            Taping,
            Sheets,
            "How to tape the sheets",
            "The film from both sides, the joins in order, and what is done at each",
            Some((CTRL, Key::G)),
        ),
        info(
            CheckFilm,
            Sheets,
            "Check the taped film by photo…",
            "How far each sheet slipped and each seam is off, from one photo",
            Some((SHIFT_CTRL, Key::F)),
        ),
        info(
            CheckScreen,
            Sheets,
            "Check the screen by photo…",
            "Closed details and pinholes of the washed-out screen, from one photo",
            Some((SHIFT_CTRL, Key::R)),
        ),
        info(
            NextSpot,
            Sheets,
            "Next place in the photo",
            "Look at the next pinhole or closed detail that the photo showed",
            Some((PLAIN, Key::F4)),
        ),
        info(
            PreviousSpot,
            Sheets,
            "Previous place in the photo",
            "Look at the one before",
            Some((SHIFT, Key::F4)),
        ),
        info(
            Fit,
            View,
            "Fit to the window",
            "See the whole garment and film",
            Some((CTRL, Key::Num0)),
        ),
        info(ZoomIn, View, "Closer", "Zoom in", Some((CTRL, Key::Equals))),
        info(ZoomOut, View, "Further away", "Zoom out", Some((CTRL, Key::Minus))),
        info(
            TrueSize,
            View,
            "True size",
            "One inch of film is one inch on the screen",
            Some((CTRL, Key::Num1)),
        ),
        info(
            Calibrate,
            View,
            "Set the screen's true size…",
            "Hold a bank card to the screen",
            None,
        ),
        info(
            Wipe,
            View,
            "Compare with the picture",
            "Lay the picture beside the film, with a line to wipe between them",
            Some((CTRL, Key::B)),
        ),
        info(Rulers, View, "Rulers", "Show or hide the rulers", None),
        info(
            Snapping,
            View,
            "Snapping",
            "Let dragged artwork and sheets catch on centre lines and edges",
            None,
        ),
        info(
            NextUnit,
            View,
            "Next unit",
            "Show lengths in inches, millimetres or centimetres",
            Some((CTRL, Key::U)),
        ),
        info(
            LargerText,
            View,
            "Larger text",
            "Everything a step larger, up to twice the size",
            Some((SHIFT_CTRL, Key::Equals)),
        ),
        info(
            SmallerText,
            View,
            "Smaller text",
            "Everything a step smaller",
            Some((SHIFT_CTRL, Key::Minus)),
        ),
        info(
            UsualText,
            View,
            "Usual text",
            "Text at its usual size",
            Some((SHIFT_CTRL, Key::Num0)),
        ),
        info(Day, View, "Light table", "A light window, for daylight", None),
        info(Night, View, "Safelight", "A dark window, for the coating room", None),
        info(
            AsSystem,
            View,
            "Light or dark as the system says",
            "Follow the system's setting",
            None,
        ),
        info(
            Go(Step::Artwork),
            View,
            "Go to artwork",
            "Step 1: the picture",
            Some((ALT, Key::Num1)),
        ),
        info(
            Go(Step::Garment),
            View,
            "Go to garment",
            "Step 2: what is printed on",
            Some((ALT, Key::Num2)),
        ),
        info(
            Go(Step::Film),
            View,
            "Go to film",
            "Step 3: size and resolution",
            Some((ALT, Key::Num3)),
        ),
        info(
            Go(Step::Sheets),
            View,
            "Go to sheets",
            "Step 4: how the film is cut up",
            Some((ALT, Key::Num4)),
        ),
        info(
            Go(Step::Screen),
            View,
            "Go to screen",
            "Step 5: what the mesh must hold",
            Some((ALT, Key::Num5)),
        ),
        info(
            Go(Step::Print),
            View,
            "Go to print",
            "Step 6: write the films",
            Some((ALT, Key::Num6)),
        ),
        info(
            Commands,
            Help,
            "Find a command…",
            "Search all commands by name",
            Some((PLAIN, Key::F1)),
        ),
        info(Walk, Help, "Show me around", "Three minutes through the window", None),
        info(
            Stop,
            Help,
            "Stop",
            "Stop the work under way, or close what is open",
            Some((PLAIN, Key::Escape)),
        ),
    ]
};

impl Command {
    /// What is known about this command.
    pub(crate) fn info(self) -> &'static Info {
        // Every command is listed, which a test checks.
        ALL.iter().find(|i| i.command == self).unwrap_or(&ALL[0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_keys_are_unique_and_said_in_full() {
        for (i, a) in ALL.iter().enumerate() {
            assert!(!a.tip.is_empty());
            assert_eq!(a.command.info().name, a.name);
            for b in &ALL[..i] {
                assert_ne!(a.name, b.name);
                assert!(a.keys.is_none() || a.keys != b.keys, "{} and {}", a.name, b.name);
            }
        }
    }
}
