//! The one hand that writes into the lot: changes from all pages in turn, several at once where they wait, each file written
//! whole beside its place and renamed.
//!
//! Before a file is written it is read again, so that what was changed by hand meanwhile stays. Between that reading and the
//! rename some thousandths of a second pass; a lock on the folder keeps another `bench` out of them, not an editor.

use super::super::replace::{Beside, PART};
use super::changes::{Change, Done, Tables};
use quarterlight::domain::Lot;
use std::fs::File;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use tokio::sync::oneshot;

/// At most so many requests are written together.
const TOGETHER: usize = 200;
/// A file that keeps changing under the hand is tried so often.
const TRIES: usize = 5;

struct Job {
    changes: Vec<Change>,
    lot: Arc<Lot>,
    answer: oneshot::Sender<Vec<Done>>,
}

/// The way to it.
#[derive(Clone)]
pub struct Store {
    jobs: Sender<Job>,
}

impl Store {
    /// Starts it for this folder; `told` after every write.
    pub fn start(folder: PathBuf, told: impl Fn() + Send + 'static) -> io::Result<Store> {
        let (jobs, waiting) = channel();
        std::thread::Builder::new().name("store".into()).spawn(move || work(&folder, &waiting, &told))?;
        Ok(Store { jobs })
    }

    /// Makes changes and says what became of each, once it is on the disk.
    pub async fn make(&self, changes: Vec<Change>, lot: Arc<Lot>) -> Vec<Done> {
        let (answer, done) = oneshot::channel();
        let n = changes.len();
        let gone = || vec![Done::Refused("the program is ending".into()); n];
        if self.jobs.send(Job { changes, lot, answer }).is_err() {
            return gone();
        }
        done.await.unwrap_or_else(|_| gone())
    }
}

fn work(folder: &Path, waiting: &Receiver<Job>, told: &dyn Fn()) {
    while let Ok(first) = waiting.recv() {
        let mut jobs = vec![first];
        while jobs.len() < TOGETHER
            && let Ok(job) = waiting.try_recv()
        {
            jobs.push(job);
        }
        let all: Vec<&Change> = jobs.iter().flat_map(|j| &j.changes).collect();
        let (mut done, wrote) = match written(folder, &jobs[0].lot, &all) {
            Ok(done) => done,
            Err(why) => (vec![Done::Refused(why); all.len()], false),
        };
        if wrote {
            told();
        }
        for job in jobs {
            let rest = done.split_off(job.changes.len());
            // who asked may have gone
            let _ = job.answer.send(std::mem::replace(&mut done, rest));
        }
    }
}

/// Makes the changes; what became of them, and whether any file was written.
fn written(folder: &Path, lot: &Lot, changes: &[&Change]) -> Result<(Vec<Done>, bool), String> {
    let _held = held(folder).map_err(|e| format!("the folder of the lot cannot be locked: {e}"))?;
    let load = |name: &str| load(folder, name);
    for _ in 0..TRIES {
        let mut tables = Tables::new(lot, &load);
        let done: Vec<Done> = changes.iter().map(|c| tables.make(c)).collect();
        let files: Vec<(&str, String)> = tables.changed().collect();
        let mut ready = Vec::new();
        for (name, text) in &files {
            let path = folder.join(real_name(folder, name).unwrap_or_else(|| (*name).to_string()));
            let beside = Beside::write(&path, text.as_bytes(), PART, true).map_err(|e| e.with_hint())?;
            ready.push(beside);
        }
        // what an editor saved while the new files were written is not lost: then all is made again
        let same = files.iter().all(|f| load(f.0).is_ok_and(|now| now.as_deref() == tables.found(f.0)));
        if !same {
            continue;
        }
        let wrote = !ready.is_empty();
        for beside in ready {
            beside.take_place().map_err(|e| e.with_hint())?;
        }
        return Ok((done, wrote));
    }
    Err("the files of the lot keep changing: is another program writing them?".into())
}

/// The bytes of a file of the lot, whatever the case of its name.
pub fn load(folder: &Path, name: &str) -> io::Result<Option<Vec<u8>>> {
    let Some(real) = real_name(folder, name) else { return Ok(None) };
    match std::fs::read(folder.join(real)) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
        Err(e) => Err(e),
    }
}

/// How a file of this name is really called there.
fn real_name(folder: &Path, name: &str) -> Option<String> {
    if folder.join(name).exists() {
        return Some(name.to_string());
    }
    let entries = std::fs::read_dir(folder).ok()?;
    let mut names: Vec<String> = entries
        .flatten()
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .filter(|n| n.eq_ignore_ascii_case(name))
        .collect();
    names.sort();
    names.into_iter().next()
}

/// A lock on the folder, free again when it is dropped.
fn held(folder: &Path) -> io::Result<Option<File>> {
    #[cfg(unix)]
    {
        let file = File::open(folder)?;
        match file.lock() {
            Ok(()) => Ok(Some(file)),
            // a file system that knows no locks
            Err(e) if e.kind() == ErrorKind::Unsupported => Ok(None),
            Err(e) => Err(e),
        }
    }
    #[cfg(not(unix))]
    {
        let _ = folder;
        Ok(None)
    }
}
