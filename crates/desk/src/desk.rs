use crate::action::Action;
use crate::canvas::{self, Model};
use crate::chooser::{Chooser, Chosen};
use crate::chore::Chore;
use crate::command::{ALL, Command};
use crate::dialog::{Dialog, Purpose};
use crate::film_printers::FilmPrinters;
use crate::fine::Fine;
use crate::notice::Notices;
use crate::panels;
use crate::photo::PhotoCheck;
use crate::prefs::Prefs;
use crate::recovery::Recovery;
use crate::recut::Looked;
use crate::shop_plan::{self, AtShop};
use crate::slips::Colors;
use crate::stages::Stages;
use crate::standing;
use crate::step::Step;
use crate::theme;
use eframe::egui::{self, Context, Ui};
use job::{History, Job};
use measure::{Length, Point, Size};
use shop::{Notebook, Shop};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The whole window: the job, what is worked out from it, and what is on the screen.
/// [`Desk::ui`] reads it and queues actions; [`Desk::logic`] carries them out.
pub struct Desk {
    pub(crate) history: History,
    /// The file the job was opened from or saved to.
    pub(crate) path: Option<PathBuf>,
    /// The job as it is on disk.
    pub(crate) kept: Job,
    pub(crate) step: Step,
    pub(crate) canvas: Model,
    pub(crate) stages: Stages,
    pub(crate) queue: Vec<Action>,
    pub(crate) notices: Notices,
    pub(crate) dialog: Option<Dialog>,
    pub(crate) chooser: Option<Chooser>,
    /// Whether this system turned out to have no file chooser.
    pub(crate) no_chooser: bool,
    /// The system's chooser, over this window.
    pub(crate) asker: rfd::FileDialog,
    pub(crate) chore: Option<Chore>,
    /// What to do after the save under way, if it was saved in order to do that.
    pub(crate) after_save: Option<Box<Action>>,
    pub(crate) out_dir: Option<String>,
    /// The job last written as films, and where to.
    pub(crate) written: Option<(Job, PathBuf)>,
    pub(crate) prefs: Prefs,
    pub(crate) shop: Shop,
    pub(crate) notebook: Notebook,
    pub(crate) at_shop: AtShop,
    pub(crate) film_printers: FilmPrinters,
    pub(crate) fine: Fine,
    pub(crate) photo: PhotoCheck,
    /// Where settings and unsaved work are kept; nowhere in tests.
    pub(crate) home: Option<PathBuf>,
    pub(crate) recovery: Option<Recovery>,
    /// When the job last changed as part of a drag that has not ended.
    pub(crate) dragged: Option<Instant>,
    pub(crate) quitting: bool,
    pub(crate) histogram: Option<(crate::panels::HistogramKey, Box<[u64; 256]>)>,
}

impl Desk {
    /// A window on a job. Settings and unsaved work are kept in `home`, if any is given.
    pub fn new(ctx: &Context, job: Job, path: Option<PathBuf>, home: Option<PathBuf>) -> Self {
        theme::install(ctx);
        let prefs = home.as_deref().map(Prefs::read).unwrap_or_default();
        let mut notices = Notices::default();
        let (shop, notebook) = home.as_deref().map(|h| kept(h, &mut notices)).unwrap_or_default();
        let film_printers = home.as_deref().map(FilmPrinters::read).unwrap_or_default();
        ctx.set_theme(egui::ThemePreference::from(prefs.theme));
        ctx.set_zoom_factor(prefs.text);
        // Zooming by keys is ours: it goes by steps up to twice the size, and is remembered.
        ctx.options_mut(|o| {
            o.zoom_with_keyboard = false;
            // A system that says neither gets the light table.
            o.fallback_theme = egui::Theme::Light;
        });
        let mut recovery = home.as_deref().and_then(Recovery::claim);
        let left = recovery.as_mut().and_then(Recovery::left_title);
        let mut desk = Self {
            kept: job.clone(),
            history: History::new(job),
            path,
            step: Step::Artwork,
            canvas: Model::new(),
            stages: Stages::new(),
            queue: Vec::new(),
            notices,
            dialog: None,
            chooser: None,
            no_chooser: false,
            asker: rfd::FileDialog::new(),
            chore: None,
            after_save: None,
            out_dir: None,
            written: None,
            prefs,
            shop,
            notebook,
            at_shop: AtShop::default(),
            film_printers,
            fine: Fine::new(),
            photo: PhotoCheck::new(),
            home,
            recovery,
            dragged: None,
            quitting: false,
            histogram: None,
        };
        if let Some(title) = left {
            desk.dialog = Some(Dialog::Recover { title });
        } else if !desk.prefs.walked && desk.home.is_some() {
            desk.dialog = Some(Dialog::Walk(0));
        }
        desk
    }

    /// The system's file chooser will belong to this window, and so stay before it.
    pub(crate) fn in_window(mut self, window: &eframe::CreationContext) -> Self {
        self.asker = self.asker.set_parent(window);
        self
    }

    /// The job as it stands.
    pub fn job(&self) -> &Job {
        self.history.job()
    }

    /// Carries out what was asked for, takes in what was worked out, and starts what is needed.
    /// Nothing is drawn here.
    pub fn logic(&mut self, ctx: &Context) {
        self.keys(ctx);
        self.dropped(ctx);
        self.choosers();
        self.chores(ctx);
        for action in std::mem::take(&mut self.queue) {
            self.act(action, ctx);
        }
        self.settle_drag(ctx);
        self.keep_unsaved(ctx);
        self.closing(ctx);
        let dragging = self.dragged.is_some() || self.canvas.held.is_some();
        let job = self.history.job().clone();
        let looked = self.looked(ctx);
        let looked_at = looked.clone();
        self.stages.follow(&job, dragging, looked, self.canvas.screens.shown, ctx);
        self.follow_slips(&job, looked_at, ctx);
        self.follow_fine(ctx);
        self.follow_photo(ctx);
        self.follow_shop(ctx);
        self.title(ctx);
    }

    /// Draws the window.
    pub fn ui(&mut self, ui: &mut Ui) {
        panels::top_bar(self, ui);
        panels::status(self, ui);
        panels::rail(self, ui);
        panels::step_panel(self, ui);
        canvas::show(self, ui);
        panels::dialogs(self, ui);
    }

    /// One frame: first what was asked for in the one before, then the picture of it.
    pub fn show(&mut self, ui: &mut Ui) {
        self.logic(&ui.ctx().clone());
        self.ui(ui);
    }

    /// Whether nothing is being worked out.
    pub fn is_at_rest(&self) -> bool {
        self.queue.is_empty()
            && self.chore.is_none()
            && self.chooser.is_none()
            && self.stages.under_way().is_none()
            && self.fine.looking().is_none()
            && !self.photo.is_opening()
            && (self.job().picture.is_none() || self.stages.is_settled())
    }

    /// What of the film is on the screen.
    fn looked(&self, ctx: &Context) -> Option<Looked> {
        let film = self.canvas.eye().screen_rect(self.film_rect()?, self.canvas.rect);
        Looked::at(film, self.canvas.rect, ctx.pixels_per_point(), self.job().turn)
    }

    /// Works out the film with slipped sheets while one looks at it.
    fn follow_slips(&mut self, job: &Job, looked: Option<Looked>, ctx: &Context) {
        let what_if = &mut self.canvas.slips;
        if what_if.seeking_worst
            && let Some((size, slips)) = self.stages.worst()
            && size == what_if.size
        {
            what_if.slips = slips.clone();
            what_if.seeking_worst = false;
            what_if.shown = true;
        }
        let p = theme::Palette::of(ctx);
        // Of dots nearly every place changes: their moire is seen in themselves.
        let changed = job.tone.is_cut().then_some(p.wrong);
        let colors = Colors { ink: p.ink, changed, layer: p.accent.gamma_multiply(0.25) };
        let worst = what_if.seeking_worst.then_some(what_if.size);
        let slips: &[_] = if what_if.shown { &what_if.slips } else { &[] };
        self.stages.follow_slips(job, slips, worst, looked, colors, ctx);
    }

    pub(crate) fn ask(&mut self, action: Action) {
        self.queue.push(action);
    }

    pub(crate) fn unsaved(&self) -> bool {
        *self.job() != self.kept
    }

    /// The film's size on the garment, as soon as the picture's proportion is known.
    pub(crate) fn film_size(&self) -> Option<Size> {
        let (w, h) = job::build::laid_px(self.job(), self.source_px()?).film();
        let length = |px: u32| self.job().resolution.length(f64::from(px));
        Some(Size::new(length(w), length(h)))
    }

    /// The artwork's own size, before its turn.
    pub(crate) fn artwork_size(&self) -> Option<Size> {
        let (w, h) = job::build::laid_px(self.job(), self.source_px()?).picture();
        Some(Size::new(self.job().resolution.length(w), self.job().resolution.length(h)))
    }

    /// The film on the table, whose origin is the garment's middle.
    pub(crate) fn film_rect(&self) -> Option<measure::Rect> {
        let size = self.film_size()?;
        let offset = self.job().offset;
        let corner = Point::new(offset.x - size.width / 2.0, offset.y - size.height / 2.0);
        Some(measure::Rect::new(corner, size))
    }

    /// The pixels of the picture that are used.
    pub(crate) fn source_px(&self) -> Option<(u32, u32)> {
        let job = self.job();
        let (w, h) = match job.art.crop {
            Some(crop) => (crop.width, crop.height),
            None => self.stages.picture_px()?,
        };
        (w > 0 && h > 0 && job.picture.is_some()).then_some((w, h))
    }

    /// How many film pixels a picture's pixel becomes, in one direction.
    pub(crate) fn enlargement(&self) -> Option<f64> {
        let job = self.job();
        Some(job.resolution.px(job.width) / f64::from(self.source_px()?.0))
    }

    /// The garment's outline on the table.
    pub(crate) fn garment_outline(&self) -> Option<Vec<Point>> {
        let film = measure::Rect::new(
            Point::new(self.job().offset.x, self.job().offset.y),
            Size::new(Length::ZERO, Length::ZERO),
        );
        // On a film without size, the film's corner is its middle.
        let outline = job::build::outline(self.job(), film.size)?;
        Some(outline.into_iter().map(|p| p + film.origin).collect())
    }

    /// The outlines on the table of the other sizes that the same screen prints.
    pub(crate) fn other_outlines(&self) -> Vec<Vec<Point>> {
        let film = self.job().offset;
        let nothing = Size::new(Length::ZERO, Length::ZERO);
        let mut all = job::build::outlines(self.job(), nothing);
        all.iter_mut().flatten().for_each(|p| *p = *p + film);
        all.into_iter().skip(1).collect()
    }

    /// Everything on the table.
    pub(crate) fn table_bounds(&self) -> measure::Rect {
        let mut corners: Vec<Point> = self.garment_outline().unwrap_or_default();
        corners.extend(self.other_outlines().into_iter().flatten());
        if let Some(film) = self.film_rect() {
            corners.extend([film.origin, Point::new(film.right(), film.bottom())]);
        }
        let half = Length::inches(20.0);
        let plain = (Point::new(-half, -half), Point::new(half, half));
        let (a, b) = corners
            .iter()
            .fold(None, |acc: Option<(Point, Point)>, p| {
                let (a, b) = acc.unwrap_or((*p, *p));
                Some((
                    Point::new(a.x.min(p.x), a.y.min(p.y)),
                    Point::new(b.x.max(p.x), b.y.max(p.y)),
                ))
            })
            .unwrap_or(plain);
        measure::Rect::between(a, b)
    }

    /// Where this very job was last written to.
    pub(crate) fn written_for_this_job(&self) -> Option<&Path> {
        self.written.as_ref().filter(|(job, _)| job == self.job()).map(|(_, dir)| dir.as_path())
    }

    /// The folder films go to unless the printer says otherwise.
    pub(crate) fn out_dir(&self) -> String {
        if let Some(dir) = &self.out_dir {
            return dir.clone();
        }
        let beside = self.path.as_ref().and_then(|p| p.parent()).map(Path::to_path_buf);
        let base = beside.or_else(dirs::document_dir).or_else(dirs::home_dir).unwrap_or_default();
        base.join(format!("{} films", self.file_name())).display().to_string()
    }

    /// The job's title as a file's name.
    pub(crate) fn file_name(&self) -> String {
        let plain: String = self
            .job()
            .title
            .chars()
            .map(|c| if c.is_alphanumeric() || " -_".contains(c) { c } else { '_' })
            .collect();
        if plain.trim().is_empty() { "Untitled".into() } else { plain.trim().into() }
    }

    fn keys(&mut self, ctx: &Context) {
        // The walk lies beside the work and blocks nothing.
        let blocked = !matches!(self.dialog, None | Some(Dialog::Walk(_)));
        if blocked && !ctx.input(|i| i.key_pressed(egui::Key::Escape)) {
            return;
        }
        // Escape closes an open menu first, which egui does; any other key closes it too.
        if egui::Popup::is_any_open(ctx) && ctx.input(|i| i.key_pressed(egui::Key::Escape)) {
            return;
        }
        let typing = ctx.egui_wants_keyboard_input();
        // The keys with the most modifiers first, so that Ctrl+Z leaves Shift+Ctrl+Z alone.
        let mut keyed: Vec<_> = ALL.iter().filter_map(|i| Some((i.keys?, i.command))).collect();
        keyed.sort_by_key(|(k, _)| !k.modifiers.shift);
        for (keys, command) in keyed {
            let function_key = matches!(keys.logical_key, egui::Key::F1 | egui::Key::F3);
            let plain = keys.modifiers.is_none() && !function_key;
            let edits_text = matches!(command, Command::Undo | Command::Redo);
            // What has the focus on a card does not keep Escape from closing it.
            let closes = command == Command::Stop && self.dialog.is_some();
            if typing && !closes && (plain || edits_text) {
                continue;
            }
            if pressed(ctx, &keys) {
                egui::Popup::close_all(ctx);
                self.ask(Action::Do(command));
            }
        }
        let again = egui::KeyboardShortcut::new(egui::Modifiers::COMMAND, egui::Key::Y);
        if !typing && ctx.input_mut(|i| i.consume_shortcut(&again)) {
            self.ask(Action::Do(Command::Redo));
        }
    }

    fn dropped(&mut self, ctx: &Context) {
        let files = ctx.input(|i| i.raw.dropped_files.clone());
        if let Some(file) = files.first() {
            let path = file.path().to_path_buf();
            if matches!(self.dialog, Some(Dialog::Photo(_))) {
                self.ask(Action::Photo(path));
                return;
            }
            // A picture dropped on a job in progress becomes its artwork.
            let replace =
                !standing::is_job(&path) && self.job().picture.is_some() && self.path.is_some();
            self.ask(if replace { Action::Replace(path) } else { Action::Open(path) });
        }
    }

    fn choosers(&mut self) {
        let Some(chosen) = self.chooser.as_ref().and_then(Chooser::poll) else { return };
        let Some(chooser) = self.chooser.take() else { return };
        match chosen {
            // The system's chooser asked whether a file may be replaced, but only of the name as
            // it was given, and never of what is in a folder.
            Chosen::Path(path) => {
                self.ask(Action::Chosen { purpose: chooser.purpose, path, agreed: true });
            }
            Chosen::Nothing => self.after_save = None,
            Chosen::NoChooser => {
                self.no_chooser = true;
                self.type_path(chooser.purpose);
            }
        }
    }

    /// Asks for a path to be typed.
    pub(crate) fn type_path(&mut self, purpose: Purpose) {
        // A check's card has a field for it.
        if purpose == Purpose::Photo {
            return;
        }
        let text = match purpose {
            Purpose::Open | Purpose::Replace | Purpose::Photo => String::new(),
            Purpose::Export => self.out_dir(),
            Purpose::Save => {
                let base = dirs::document_dir().or_else(dirs::home_dir).unwrap_or_default();
                let name = format!("{}.{}", self.file_name(), job::file::ENDING);
                self.path.clone().unwrap_or_else(|| base.join(name)).display().to_string()
            }
        };
        self.dialog = Some(Dialog::Path { purpose, text });
    }

    fn chores(&mut self, ctx: &Context) {
        let Some(result) = self.chore.as_ref().and_then(Chore::poll) else { return };
        self.chore = None;
        self.chore_done(result, ctx);
    }

    /// A drag by keys or by a slider ends when the hand rests.
    fn settle_drag(&mut self, ctx: &Context) {
        let Some(at) = self.dragged else { return };
        let rest = std::time::Duration::from_millis(700);
        if self.canvas.held.is_none() && !ctx.input(|i| i.pointer.any_down()) && at.elapsed() > rest
        {
            self.history.end_drag();
            self.dragged = None;
        }
        ctx.request_repaint_after(rest);
    }

    fn keep_unsaved(&mut self, ctx: &Context) {
        let unsaved = self.unsaved();
        let Some(recovery) = &mut self.recovery else { return };
        if matches!(self.dialog, Some(Dialog::Recover { .. })) {
            return;
        }
        recovery.keep(self.history.job(), unsaved, ctx);
    }

    fn closing(&mut self, ctx: &Context) {
        if !ctx.input(|i| i.viewport().close_requested()) || self.quitting {
            return;
        }
        if self.unsaved() {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.dialog = Some(Dialog::Unsaved(Box::new(Action::QuitAnyway)));
        } else if let Some(recovery) = &mut self.recovery {
            recovery.done();
        }
    }

    fn title(&self, ctx: &Context) {
        let mark = if self.unsaved() { "• " } else { "" };
        let title = format!("{mark}{} — Filmquilt", self.job().title);
        let id = egui::Id::unique("window title");
        if ctx.data(|d| d.get_temp::<String>(id)).as_ref() != Some(&title) {
            ctx.data_mut(|d| d.insert_temp(id, title.clone()));
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title));
        }
    }
}

/// The shop's numbers and notebook as kept in a folder; what cannot be read is said.
fn kept(home: &Path, notices: &mut Notices) -> (Shop, Notebook) {
    let (shop, wrong) = Shop::open(&shop_plan::file(home));
    let book = Notebook::read(&shop_plan::notebook(home));
    for e in wrong.iter().chain(book.as_ref().err()) {
        notices.say(e.to_string(), e.hint());
    }
    (shop, book.unwrap_or_default())
}

/// Whether keys were pressed, by what is written on them or by where they are: with Shift the
/// key of `=` says `+`.
fn pressed(ctx: &Context, keys: &egui::KeyboardShortcut) -> bool {
    ctx.input_mut(|i| {
        let before = i.events.len();
        i.events.retain(|event| {
            let egui::Event::Key { key, physical_key, modifiers, pressed: true, .. } = event else {
                return true;
            };
            let same = *key == keys.logical_key || *physical_key == Some(keys.logical_key);
            !(same && modifiers.matches_exact(keys.modifiers))
        });
        i.events.len() < before
    })
}

impl eframe::App for Desk {
    fn logic(&mut self, ctx: &Context, _frame: &mut eframe::Frame) {
        Self::logic(self, ctx);
    }
    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        Self::ui(self, ui);
    }
}
