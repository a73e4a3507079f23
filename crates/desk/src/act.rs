//! The only place that acts: every action and every command ends up here.

use crate::action::Action;
use crate::canvas::{self, View};
use crate::chooser::Chooser;
use crate::chore::{self, Chore, Outcome};
use crate::command::Command;
use crate::desk::Desk;
use crate::dialog::{Dialog, Purpose};
use crate::films::listed;
use crate::photo::{PhotoCheck, Subject};
use crate::prefs::{Light, Prefs};
use crate::standing;
use crate::step::Step;
use eframe::egui::{self, Context};
use garment::Garment;
use inks::{Inks, Rgb};
use job::build::Exported;
use job::shop::Paper;
use job::{Edit, History, Job, JobError, ScreenPlans};
use measure::{Angle, Point, Unit};
use std::path::PathBuf;
use std::time::Instant;

impl Desk {
    pub(crate) fn act(&mut self, action: Action, ctx: &Context) {
        match action {
            Action::Do(command) => self.run(command, ctx),
            Action::Edit(edit) => {
                self.dragged = None;
                let result = self.history.apply(edit);
                self.say_if_wrong(result);
            }
            Action::Drag(edit) => {
                self.dragged = Some(Instant::now());
                let result = self.history.drag(edit);
                self.say_if_wrong(result);
            }
            Action::EndDrag => {
                self.history.end_drag();
                self.dragged = None;
            }
            Action::WipeAt(share) => {
                if share.is_finite() {
                    self.canvas.wipe = Some(share.clamp(0.0, 1.0));
                }
            }
            Action::ChooseSheet(sheet) => {
                self.canvas.sheet = sheet;
                self.canvas.seam = None;
            }
            Action::ChooseSeam(seam) => {
                self.canvas.seam = seam;
                self.canvas.sheet = None;
            }
            Action::ShowScreen(screen) => self.canvas.screens.shown = screen,
            Action::PickInk(colour) => self.pick_ink(colour),
            Action::Opacity(share) => self.canvas.screens.opacity = share.clamp(0.0, 1.0),
            Action::Slips(slips) => {
                self.canvas.slips.shown = slips.iter().any(|s| *s != sheets::Slip::default());
                self.canvas.slips.slips = slips;
            }
            Action::Finest(finest) => self.fine.finest = finest,
            Action::Shop(shop) => self.set_shop(*shop),
            Action::WriteDown(entry) => self.write_down(*entry),
            Action::Draw(drawing) => self.at_shop.drawing = drawing,
            Action::AtShop(at_shop) => self.at_shop = *at_shop,
            Action::WriteStrip => {
                let (strip, dir) = (self.shop.settings.strip.clone(), self.out_dir());
                self.begin("Writing the test strip", ctx, move |_| {
                    chore::strip(&strip, dir.trim().as_ref())
                });
            }
            Action::CalibrationPage => self.write_calibration(),
            Action::KeepPrinter => self.keep_printer(),
            Action::WorstSlip(size) => {
                self.canvas.slips.size = size;
                self.canvas.slips.seeking_worst = true;
                self.stages.forget_worst();
            }
            Action::Open(path) => self.unless_unsaved(Action::OpenAnyway(path), ctx),
            Action::OpenAnyway(path) => {
                let name = file_name(&path);
                self.begin(format!("Opening {name}"), ctx, move |_| chore::open(&path));
            }
            Action::Replace(path) => {
                let name = file_name(&path);
                self.begin(format!("Opening {name}"), ctx, move |_| chore::replacement(&path));
            }
            Action::Chosen { purpose, path, agreed } => self.chosen(purpose, path, agreed, ctx),
            Action::SaveTo(path) => self.save_to(path, ctx),
            Action::ChoosePhoto => self.choose(Purpose::Photo, ctx),
            Action::Photo(path) => self.take_photo(&path),
            Action::CheckPhoto(card) => self.check_photo(*card, ctx),
            Action::ForgetChecked(subject) => self.photo.put(subject, None),
            Action::OutDir(text) => self.out_dir = Some(text),
            Action::ExportTo(dir) => {
                self.out_dir = Some(dir.display().to_string());
                let job = self.job().clone();
                self.begin("Writing the films", ctx, move |p| chore::export(job, dir, p));
            }
            Action::ExportSizes(dir, names) => {
                let job = self.job().clone();
                self.begin("Writing the films", ctx, move |p| {
                    chore::export_sizes(job, dir, &names, p)
                });
            }
            Action::AfterSave(next) => self.after_save = Some(next),
            Action::NewAnyway => self.take_up(Job::default(), None),
            Action::DemoAnyway => self.take_up(job::demo(), None),
            Action::QuitAnyway => {
                self.quitting = true;
                if let Some(recovery) = &mut self.recovery {
                    recovery.done();
                }
                ctx.send_viewport_cmd(egui::ViewportCommand::Close);
            }
            Action::Recover(wanted) => self.recover(wanted),
            Action::Show(dialog) => self.dialog = Some(dialog),
            Action::CloseDialog => {
                if matches!(self.dialog, Some(Dialog::Walk(_))) {
                    self.remember(|p| p.walked = true);
                }
                self.dialog = None;
                self.after_save = None;
            }
            Action::Calibrated(points_per_inch) => {
                self.remember(|p| p.points_per_inch = Some(points_per_inch));
                self.dialog = None;
                self.true_size(ctx);
            }
            Action::Forget(notice) => self.notices.forget(notice),
        }
    }

    fn run(&mut self, command: Command, ctx: &Context) {
        if let Err(why) = self.can(command) {
            self.notices.say(why, "");
            return;
        }
        match command {
            Command::NewJob => self.unless_unsaved(Action::NewAnyway, ctx),
            Command::Open => self.choose(Purpose::Open, ctx),
            Command::OpenDemo => self.unless_unsaved(Action::DemoAnyway, ctx),
            Command::ReplaceArtwork => self.choose(Purpose::Replace, ctx),
            Command::PasteArtwork => {
                self.begin("Pasting the picture", ctx, |_| Ok(chore::pasted()))
            }
            Command::Save => match self.path.clone() {
                Some(path) => self.save_to(path, ctx),
                None => self.choose(Purpose::Save, ctx),
            },
            Command::SaveAs => self.choose(Purpose::Save, ctx),
            Command::Export => {
                self.step = Step::Print;
                self.choose(Purpose::Export, ctx);
            }
            Command::ExportSizes => {
                let now = self.job().garment.as_ref().map(|g| g.name.clone());
                let dir = PathBuf::from(self.out_dir());
                let standing = Garment::names()
                    .into_iter()
                    .filter(|name| !standing::films_in(&dir.join(name)).is_empty())
                    .collect();
                self.dialog = Some(Dialog::Sizes { chosen: now.into_iter().collect(), standing });
            }
            Command::Ticket => self.write_ticket(ctx),
            Command::OpenFolder => {
                if let Some((_, dir)) = &self.written
                    && let Err(e) = open::that_detached(dir)
                {
                    self.notices.say(
                        format!("the folder could not be shown: {e}"),
                        "open it in your file manager",
                    );
                }
            }
            Command::Quit => self.unless_unsaved(Action::QuitAnyway, ctx),
            Command::Undo => {
                if let Some(name) = self.history.undo() {
                    self.notices.tell(format!("Took back: {name}"));
                }
            }
            Command::Redo => {
                if let Some(name) = self.history.redo() {
                    self.notices.tell(format!("Made again: {name}"));
                }
            }
            Command::Invert => {
                let invert = !self.job().art.invert;
                self.ask(Action::Edit(Edit::Invert(invert)));
            }
            Command::CropByHand => {
                self.step = Step::Artwork;
                self.canvas.cropping = !self.canvas.cropping;
            }
            Command::PickInk => {
                self.step = Step::Film;
                self.canvas.picking = !self.canvas.picking;
            }
            Command::UncropArtwork => self.ask(Action::Edit(Edit::Crop(None))),
            Command::CentreArtwork => self.ask(Action::Edit(Edit::Offset(Point::default()))),
            Command::FitToGarment => self.cover_garment(),
            Command::QuarterTurn => {
                let turn = canvas::plain_turn(self.job().turn.to_deg() + 90.0);
                self.ask(Action::Edit(Edit::Turn(turn)));
            }
            Command::Upright => self.ask(Action::Edit(Edit::Turn(Angle::ZERO))),
            Command::NextFine => self.step_fine(true),
            Command::PreviousFine => self.step_fine(false),
            Command::MendThis | Command::MendAll | Command::MendNothing => self.mend(command),
            Command::PinAll
            | Command::UnpinAll
            | Command::PinSheet
            | Command::TurnSheet
            | Command::AddSheet
            | Command::RemoveSheet => {
                if let Some(edit) = crate::pins::edit(self, command) {
                    self.ask(Action::Edit(edit));
                }
            }
            Command::Fit => self.canvas.view = None,
            Command::ZoomIn => self.zoom(1.25),
            Command::ZoomOut => self.zoom(0.8),
            Command::TrueSize => self.true_size(ctx),
            Command::Calibrate => {
                let points_per_inch = self.points_per_inch(ctx);
                self.dialog = Some(Dialog::Calibrate { points_per_inch });
            }
            Command::Rulers => self.canvas.rulers = !self.canvas.rulers,
            Command::Snapping => self.canvas.snapping = !self.canvas.snapping,
            Command::Wipe => {
                self.canvas.wipe = if self.canvas.wipe.is_some() { None } else { Some(0.5) }
            }
            Command::NextUnit => {
                let next = match self.job().unit {
                    Unit::In => Unit::Mm,
                    Unit::Mm => Unit::Cm,
                    Unit::Cm | Unit::Pt => Unit::In,
                };
                self.ask(Action::Edit(Edit::Unit(next)));
            }
            Command::LargerText => self.text(self.prefs.text + 0.1, ctx),
            Command::SmallerText => self.text(self.prefs.text - 0.1, ctx),
            Command::UsualText => self.text(1.0, ctx),
            Command::Day => self.light(Light::Day, ctx),
            Command::Night => self.light(Light::Night, ctx),
            Command::AsSystem => self.light(Light::System, ctx),
            Command::Go(step) => self.step = step,
            Command::Commands => {
                self.dialog = Some(Dialog::Commands { text: String::new(), chosen: 0 })
            }
            Command::CheckFilm => self.photo_card(Subject::Film),
            Command::CheckScreen => self.photo_card(Subject::Screen),
            Command::NextSpot => self.step_spot(true),
            Command::PreviousSpot => self.step_spot(false),
            Command::Taping => self.dialog = Some(Dialog::Taping(0)),
            Command::Walk => self.dialog = Some(Dialog::Walk(0)),
            Command::Stop => self.stop(),
        }
    }

    /// Whether a command can be given now, and if not, why.
    pub(crate) fn can(&self, command: Command) -> Result<(), &'static str> {
        let unless = |ok: bool, why| if ok { Ok(()) } else { Err(why) };
        match command {
            Command::Undo => unless(self.history.undo_name().is_some(), "there is nothing to undo"),
            Command::Redo => unless(self.history.redo_name().is_some(), "there is nothing to redo"),
            Command::OpenFolder => unless(self.written.is_some(), "no films were written yet"),
            Command::MendThis => unless(self.fine_place().is_some(), "choose a fine place first"),
            Command::MendAll => {
                let some = self.fine_places().is_some_and(|found| !found.places.is_empty());
                unless(some, "no place too fine was found")
            }
            Command::MendNothing => unless(self.job().mend.is_some(), "nothing is mended"),
            Command::Invert
            | Command::CropByHand
            | Command::CentreArtwork
            | Command::QuarterTurn
            | Command::Wipe
            | Command::NextFine
            | Command::PreviousFine => unless(self.job().picture.is_some(), "open a picture first"),
            Command::PickInk => {
                unless(self.job().inks.is_some(), "choose one screen for each ink first")
            }
            Command::UncropArtwork => {
                unless(self.job().art.crop.is_some(), "the whole picture is used already")
            }
            Command::Upright => {
                unless(self.job().turn != Angle::ZERO, "the artwork lies upright already")
            }
            Command::FitToGarment => unless(
                self.job().garment.is_some() && self.film_size().is_some(),
                "choose a garment and open a picture first",
            ),
            Command::Export | Command::ExportSizes => match self.chore {
                Some(_) => Err("wait for the work under way, or stop it"),
                None => unless(self.job().picture.is_some(), "open a picture first"),
            },
            Command::Ticket => match self.chore {
                Some(_) => Err("wait for the work under way, or stop it"),
                None => unless(
                    self.stages.shop_is_fresh() && matches!(self.stages.plans(), Some(Ok(_))),
                    "wait for the shop's plan",
                ),
            },
            Command::PinAll
            | Command::AddSheet
            | Command::PinSheet
            | Command::TurnSheet
            | Command::RemoveSheet
                if self.stages.planned_screen().is_some() =>
            {
                Err("sheets are placed by hand on a plan that all screens share")
            }
            Command::PinAll | Command::AddSheet => {
                unless(self.stages.layout().is_some(), "there are no sheets yet")
            }
            Command::Taping => unless(self.stages.seams().is_some(), "there are no seams yet"),
            Command::CheckFilm | Command::CheckScreen => {
                unless(self.chore.is_none(), "wait for the work under way, or stop it")
            }
            Command::NextSpot | Command::PreviousSpot => {
                unless(self.photo.at_step(self.step).is_some(), "check a photo first")
            }
            Command::UnpinAll => unless(!self.job().pinned.is_empty(), "no sheet is pinned"),
            Command::PinSheet | Command::TurnSheet | Command::RemoveSheet => {
                unless(crate::pins::chosen(self).is_some(), "choose a sheet first")
            }
            _ => Ok(()),
        }
    }

    pub(crate) fn say_if_wrong(&mut self, result: Result<(), JobError>) {
        if let Err(e) = result {
            self.notices.say(e.to_string(), e.hint());
        }
    }

    fn unless_unsaved(&mut self, action: Action, ctx: &Context) {
        if self.unsaved() {
            self.dialog = Some(Dialog::Unsaved(Box::new(action)));
        } else {
            self.dialog = None;
            self.act(action, ctx);
        }
    }

    fn choose(&mut self, purpose: Purpose, ctx: &Context) {
        if self.chooser.is_some() {
            return;
        }
        let name = format!("{}.{}", self.file_name(), job::file::ENDING);
        self.chooser = if self.no_chooser || self.home.is_none() {
            None
        } else {
            Chooser::ask(self.asker.clone(), purpose, name, ctx)
        };
        if self.chooser.is_none() {
            self.type_path(purpose);
        }
    }

    /// Does what a file or folder was chosen for, or asks first whether what stands there may go.
    fn chosen(&mut self, purpose: Purpose, path: PathBuf, agreed: bool, ctx: &Context) {
        let (next, standing) = match purpose {
            Purpose::Open => (Action::Open(path), Vec::new()),
            Purpose::Replace => (Action::Replace(path), Vec::new()),
            Purpose::Photo => (Action::Photo(path), Vec::new()),
            Purpose::Save => {
                let whole = standing::with_ending(path.clone());
                let known = agreed && whole == path || self.path.as_ref() == Some(&whole);
                let there = !known && whole.exists();
                let names = there.then(|| file_name(&whole)).into_iter().collect();
                (Action::SaveTo(whole), names)
            }
            Purpose::Export => {
                // Whoever writes the same job anew into its folder means to.
                let own = self
                    .written
                    .as_ref()
                    .is_some_and(|(job, dir)| job.title == self.job().title && dir == &path);
                let names = if own { Vec::new() } else { standing::films_in(&path) };
                (Action::ExportTo(path), names)
            }
        };
        if standing.is_empty() {
            self.act(next, ctx);
        } else {
            self.dialog = Some(Dialog::Standing { names: standing, next: Box::new(next) });
        }
    }

    fn save_to(&mut self, path: PathBuf, ctx: &Context) {
        let job = self.job().clone();
        self.begin("Saving the job", ctx, move |_| chore::save(job, path));
    }

    pub(crate) fn begin(
        &mut self,
        what: impl Into<String>,
        ctx: &Context,
        work: impl FnOnce(&progress::Progress) -> Result<Outcome, JobError> + Send + 'static,
    ) {
        if self.chore.is_some() {
            self.notices.say(
                "one thing at a time: other work is still under way",
                "wait for it, or stop it",
            );
            return;
        }
        self.dialog = None;
        self.chore = Chore::start(what, ctx, work);
    }

    pub(crate) fn chore_done(&mut self, result: Result<Outcome, JobError>, ctx: &Context) {
        match result {
            Ok(Outcome::Opened { job, path }) => {
                if let Some(path) = &path {
                    self.remember(|p| p.used(path));
                }
                self.take_up(*job, path);
            }
            Ok(Outcome::NothingPasted(why)) => {
                self.notices.say(why, "copy a picture in another program first");
            }
            Ok(Outcome::Replaced(file)) => self.ask(Action::Edit(Edit::Picture(file))),
            Ok(Outcome::Saved { job, path }) => {
                self.remember(|p| p.used(&path));
                self.notices.tell(format!("Saved to {}", path.display()));
                self.kept = *job;
                self.path = Some(path);
                if let Some(next) = self.after_save.take() {
                    self.act(*next, ctx);
                }
            }
            Ok(Outcome::Checked(checked)) => self.show_checked(*checked),
            Ok(Outcome::Paper(path)) => self.notices.tell(format!("Wrote {}", path.display())),
            Ok(Outcome::Written { job, dir, films, sheets, unregistered }) => {
                let sizes = if films > 1 { format!(" for {films} sizes") } else { String::new() };
                let mut told = format!("Wrote {sheets} sheets{sizes} to {}", dir.display());
                if unregistered {
                    told = format!("{told}. {}", Exported::UNREGISTERED);
                }
                self.notices.tell(told);
                self.written = Some((*job, dir));
                self.step = Step::Print;
            }
            Err(e) if e.is_cancelled() => {
                self.after_save = None;
                self.notices.tell("Stopped; nothing was written".into());
            }
            Err(e) => {
                self.after_save = None;
                self.notices.say(e.to_string(), e.hint());
            }
        }
    }

    /// Puts a job on the desk.
    fn take_up(&mut self, job: Job, path: Option<PathBuf>) {
        self.kept = job.clone();
        self.history = History::new(job);
        self.path = path;
        self.step = Step::Artwork;
        self.canvas.view = None;
        self.canvas.sheet = None;
        self.canvas.cropping = false;
        self.canvas.picking = false;
        self.fine.at = None;
        self.out_dir = None;
        self.written = None;
        self.photo = PhotoCheck::new();
        self.dialog = None;
        self.dragged = None;
    }

    fn recover(&mut self, wanted: bool) {
        self.dialog = None;
        let Some(recovery) = &mut self.recovery else { return };
        if wanted {
            match recovery.take() {
                Ok(job) => {
                    self.take_up(job, None);
                    // It is on no disk yet under a name of its own.
                    self.kept = Job::default();
                }
                Err(e) => self.notices.say(e.to_string(), e.hint()),
            }
        } else {
            recovery.done();
        }
    }

    /// Writes the shop's plans as they stand, with the notebook's part, into the films' folder.
    fn write_ticket(&mut self, ctx: &Context) {
        let Some(Ok(plans)) = self.stages.plans() else { return };
        let plans = ScreenPlans::clone(plans).noted(&self.notebook, &self.shop.settings);
        let paper = Paper::usual(self.job().unit);
        let dir = PathBuf::from(self.out_dir().trim());
        self.begin("Writing the job ticket", ctx, move |_| {
            let written = plans.write_tickets(paper, &dir)?;
            Ok(Outcome::Paper(written.into_iter().next().unwrap_or(dir)))
        });
    }

    /// Makes the artwork cover the garment and its bleed.
    fn cover_garment(&mut self) {
        let (Some(outline), Some(size)) = (self.garment_outline(), self.artwork_size()) else {
            return;
        };
        // Along the artwork's own sides, which may be turned.
        let (sin, cos) = self.job().turn.sin_cos();
        let far = |f: &dyn Fn(&Point) -> measure::Length| {
            outline.iter().map(f).fold(measure::Length::ZERO, |a, b| a.max(b.abs()))
        };
        let bleed = self.job().bleed;
        let wide = (far(&|p| p.x * cos + p.y * sin) + bleed) * 2.0;
        let high = (far(&|p| p.y * cos - p.x * sin) + bleed) * 2.0;
        let width = wide.max(high * (size.width / size.height));
        self.ask(Action::Edit(Edit::Scale(width, Point::default())));
    }

    fn zoom(&mut self, by: f64) {
        let rect = self.canvas.rect;
        let mut view = self.canvas.eye();
        view.zoom(by, rect.center(), rect);
        self.canvas.view = Some(view);
    }

    /// Screen points that an inch takes: as measured, else as usual for desktop screens.
    pub(crate) fn points_per_inch(&self, ctx: &Context) -> f32 {
        self.prefs.points_per_inch.unwrap_or(96.0) / ctx.zoom_factor()
    }

    fn true_size(&mut self, ctx: &Context) {
        let points_per_mm = f64::from(self.points_per_inch(ctx)) / 25.4;
        let middle_mm = self.canvas.eye().middle_mm;
        self.canvas.view = Some(View { middle_mm, points_per_mm });
        if self.prefs.points_per_inch.is_none() {
            self.notices.tell(
                "True size is a guess until you set it: View, Set the screen's true size".into(),
            );
        }
    }

    fn text(&mut self, size: f32, ctx: &Context) {
        let size = ((size * 10.0).round() / 10.0).clamp(0.8, 2.0);
        ctx.set_zoom_factor(size);
        self.remember(|p| p.text = size);
    }

    fn light(&mut self, light: Light, ctx: &Context) {
        ctx.set_theme(egui::ThemePreference::from(light));
        self.remember(|p| p.theme = light);
    }

    fn remember(&mut self, change: impl FnOnce(&mut Prefs)) {
        change(&mut self.prefs);
        if let Some(home) = &self.home {
            self.prefs.write(home);
        }
    }

    /// Whether a click on the artwork picks an ink now.
    pub(crate) fn is_picking(&self) -> bool {
        self.canvas.picking && self.step == Step::Film && self.job().inks.is_some()
    }

    /// Lists a colour of the picture as an ink, after those there are, and shows its film.
    fn pick_ink(&mut self, colour: Rgb) {
        self.canvas.picking = false;
        let Some(now) = self.job().inks.clone() else { return };
        let inks = self.stages.plates().map_or_else(Vec::new, |p| p.inks().to_vec());
        if let Some(ink) = inks.iter().find(|ink| ink.colour == colour) {
            self.notices.tell(format!("That is {}, an ink already", ink.name));
            return;
        }
        let mut list = listed(&inks);
        list.push((colour, None));
        let shown = inks.len() + usize::from(now.underbase.is_some());
        self.ask(Action::Edit(Edit::Inks(Some(now.looking_for(Inks::Picked(list))))));
        self.ask(Action::ShowScreen(Some(shown)));
    }

    fn stop(&mut self) {
        if self.dialog.is_some() {
            self.ask(Action::CloseDialog);
        } else if let Some(chore) = &self.chore {
            chore.stop();
        } else if self.canvas.slips.seeking_worst {
            self.canvas.slips.seeking_worst = false;
            self.stages.forget_worst();
        } else if self.canvas.cropping {
            self.canvas.cropping = false;
        } else if self.is_picking() {
            self.canvas.picking = false;
        } else {
            self.canvas.sheet = None;
            self.notices.clear();
        }
    }
}

fn file_name(path: &std::path::Path) -> String {
    path.file_name()
        .map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}
