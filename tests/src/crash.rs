//! The program killed at any moment: what was saved and exported before is there, or the new.

use crate::util::{done, filmquilt, folder, root, text};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const FILES: [&str; 3] = ["film.pdf", "guide.pdf", "plan.json"];
/// Says to the test that runs as a child where to save.
const SAVE_TO: &str = "FILMQUILT_TEST_SAVE_TO";

/// Moments, the same in every run: a small linear congruential generator's (Knuth, The Art of
/// Computer Programming 2, 3.3.4, line 26).
struct Moments(u64);

impl Moments {
    /// A share from 0 to 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// The words for one of two exports that differ in every file.
fn words(art: &str, dir: &Path, which: usize) -> Vec<String> {
    let width = ["19in", "21in"][which];
    ["film", art, "--out", &text(dir), "--width", width, "--ppi", "72", "--edges", "plain"]
        .map(String::from)
        .to_vec()
}

/// The bytes of a folder's export; none where there is none.
fn export(dir: &Path) -> Option<Vec<Vec<u8>>> {
    FILES.iter().map(|name| std::fs::read(dir.join(name)).ok()).collect()
}

/// Kills exports over an older one and exports into a new folder.
fn kill_exports(moments: usize) {
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let [old, new] = [0, 1].map(|which| {
        let dir = folder();
        done(words(&art, dir.path(), which));
        export(dir.path()).expect("an export")
    });
    let start = Instant::now();
    done(words(&art, folder().path(), 1));
    let long = start.elapsed();
    let mut at = Moments(1);
    let (mut olds, mut news, mut nones, mut mixed) = (0, 0, 0, 0);
    for n in 0..moments {
        let dir = folder();
        let out = dir.path().join("films");
        let empty = n % 4 == 3;
        if !empty {
            done(words(&art, &out, 0));
        }
        let mut child = Command::new(env!("CARGO_BIN_EXE_filmquilt"))
            .args(words(&art, &out, 1))
            .stderr(Stdio::null())
            .spawn()
            .expect("filmquilt runs");
        if n % 2 == 0 {
            std::thread::sleep(long.mul_f64(at.next() * 1.1));
        } else {
            // While the files take their names, which is soon over.
            let list = out.join("export-unfinished.txt.part");
            while !list.exists() && child.try_wait().expect("a child").is_none() {
                std::hint::spin_loop();
            }
            std::thread::sleep(Duration::from_micros((at.next() * 6000.0) as u64));
        }
        child.kill().expect("killed");
        child.wait().expect("gone");
        let found = export(&out);
        let one = |found: &Option<Vec<Vec<u8>>>| {
            found.as_ref() == Some(&old) || found.as_ref() == Some(&new)
        };
        mixed += usize::from(found.is_some() && !one(&found));
        let said = filmquilt(["check", &text(&out), "--json"]);
        let settled = export(&out);
        match &settled {
            Some(files) if *files == old => olds += 1,
            Some(files) if *files == new => news += 1,
            None if empty => nones += 1,
            _ => panic!("moment {n}: neither the old export nor the new one"),
        }
        if settled.is_some() {
            let said = String::from_utf8_lossy(&said.stdout).into_owned();
            assert!(said.contains("\"good\""), "moment {n}: {said}");
        }
        // The next export is not disturbed by what was left behind.
        if n % 5 == 0 {
            done(words(&art, &out, 1));
            assert_eq!(export(&out).as_ref(), Some(&new), "moment {n}");
            assert_eq!(std::fs::read_dir(&out).expect("a folder").count(), 3, "moment {n}");
        }
    }
    println!("{moments} kills: {olds} old, {news} new, {nones} none; {mixed} mended by check");
    assert!(olds > 0 && news > 0, "{olds} old, {news} new");
}

/// Kills a program that saves one of two jobs over the other, again and again.
fn kill_saves(moments: usize) {
    let dir = folder();
    let path = dir.path().join("job.quilt");
    let jobs = two_jobs();
    job::file::save(&jobs[0], &path).expect("saved");
    let mut at = Moments(2);
    let mut seen = [0, 0];
    for n in 0..moments {
        let mut child = Command::new(std::env::current_exe().expect("this program"))
            .args(["--exact", "crash::saves_until_killed", "--ignored"])
            .env(SAVE_TO, &path)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the test runs again");
        std::thread::sleep(Duration::from_micros(3000 + (at.next() * 40_000.0) as u64));
        child.kill().expect("killed");
        child.wait().expect("gone");
        let found = job::file::open(&path).unwrap_or_else(|e| panic!("moment {n}: {e}"));
        let which = jobs.iter().position(|job| *job == found);
        seen[which.unwrap_or_else(|| panic!("moment {n}: another job"))] += 1;
    }
    println!("{moments} kills: {seen:?} of the two jobs");
    assert!(moments < 100 || seen[1] > 0, "nothing was ever saved");
}

fn two_jobs() -> [job::Job; 2] {
    let job = job::demo();
    let mut other = job::Job { title: "Another".into(), ..job.clone() };
    other.overlap = other.overlap * 2.0;
    [job, other]
}

#[test]
#[ignore = "the child of the tests that kill it"]
fn saves_until_killed() {
    let Ok(path) = std::env::var(SAVE_TO) else { return };
    let jobs = two_jobs();
    for n in 1.. {
        job::file::save(&jobs[n % 2], Path::new(&path)).expect("saved");
    }
}

#[test]
fn a_killed_export_leaves_the_old_films_or_the_new() {
    kill_exports(12);
}

#[test]
fn a_killed_save_leaves_the_old_job_or_the_new() {
    kill_saves(15);
}

#[test]
#[ignore = "takes minutes; run before a release"]
fn two_hundred_kills_of_an_export() {
    kill_exports(200);
}

#[test]
#[ignore = "takes half a minute; run before a release"]
fn two_hundred_kills_of_a_save() {
    kill_saves(200);
}
