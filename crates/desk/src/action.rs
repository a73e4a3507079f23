//! What the window's parts ask for. They read the desk's state and queue these;
//! only [`crate::act`] carries them out.

use crate::command::Command;
use crate::dialog::{Dialog, Purpose};
use crate::photo::{Card, Subject};
use job::Edit;
use std::path::PathBuf;

/// Something asked for.
#[derive(Clone, Debug)]
pub(crate) enum Action {
    /// A command, without further words.
    Do(Command),
    /// A change of the job.
    Edit(Edit),
    /// A change that is part of a drag; all of one drag are one step to undo.
    Drag(Edit),
    /// The hand let go.
    EndDrag,
    /// Where the line between picture and film stands, as a share of the table's width.
    WipeAt(f32),
    /// Choose a sheet of the plan, or none.
    ChooseSheet(Option<usize>),
    /// Choose a seam, or none.
    ChooseSeam(Option<usize>),
    /// Shows one screen's film, or the print that all make.
    ShowScreen(Option<usize>),
    /// Makes a colour of the picture an ink.
    PickInk(inks::Rgb),
    /// How much an ink hides in the print shown, 0 to 1.
    Opacity(f32),
    /// Lays sheets off their places, only to look.
    Slips(Vec<sheets::Slip>),
    /// Looks for the worst of many slips of this size.
    WorstSlip(measure::Length),
    /// The finest line that prints, or the mesh's.
    Finest(Option<measure::Length>),
    /// The shop's own numbers, the same for every job.
    Shop(Box<shop::Shop>),
    /// An entry for the shop's notebook.
    WriteDown(Box<shop::Entry>),
    /// Lays a drawing of the shop's plan on the table, or takes it away.
    Draw(Option<(&'static str, usize)>),
    /// What is typed at the Screen step.
    AtShop(Box<crate::shop_plan::AtShop>),
    /// Writes the exposure test strip into the films' folder.
    WriteStrip,
    /// Writes the film printer's calibration page.
    CalibrationPage,
    /// Works a film printer out from what was read, and keeps it.
    KeepPrinter,
    /// Opens a job or a picture; asks about unsaved changes first.
    Open(PathBuf),
    /// As [`Action::Open`], with unsaved changes given up.
    OpenAnyway(PathBuf),
    /// Puts another picture into the job.
    Replace(PathBuf),
    SaveTo(PathBuf),
    /// Where films go.
    OutDir(String),
    /// Asks for a check's photo.
    ChoosePhoto,
    /// The photo of the check whose card is open.
    Photo(PathBuf),
    /// Begins a check by photo.
    CheckPhoto(Box<Card>),
    /// Puts a check's result away.
    ForgetChecked(Subject),
    /// A file or folder was chosen; `agreed` where what stands at that very path may go.
    Chosen {
        purpose: Purpose,
        path: PathBuf,
        agreed: bool,
    },
    ExportTo(PathBuf),
    /// Films for several garments, each in a folder of its name.
    ExportSizes(PathBuf, Vec<String>),
    /// Once the save asked for is done, does this.
    AfterSave(Box<Action>),
    NewAnyway,
    DemoAnyway,
    QuitAnyway,
    /// Takes up what an ended window left unsaved, or throws it away.
    Recover(bool),
    Show(Dialog),
    CloseDialog,
    /// How many screen points an inch takes.
    Calibrated(f32),
    Forget(usize),
}
