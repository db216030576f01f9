//! The files that a job is read from, and waiting until one of them is saved.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread;
use std::time::Duration;

use notify::{Event, RecommendedWatcher, RecursiveMode, Watcher};

use super::super::files::{self, JobText};
use super::super::{Failure, say};

/// Without a sign from the system the files are looked at this often: some file systems give none, and none comes from
/// a folder that was taken away and made again.
const LOOK: Duration = Duration::from_secs(2);

/// For so long a file must stay as it is: an editor may write it in pieces, or take it away first.
const QUIET: Duration = Duration::from_millis(60);

/// So many times that is waited for; then what is there is taken.
const PATIENCE: usize = 20;

/// The files of a job and what was in them when they were last read.
pub(super) struct Disk {
    job: PathBuf,
    /// What the job names under `use:`, as written.
    used: Vec<String>,
    /// What was in the job file and in those that it names, or why that could not be told.
    seen: Vec<Result<Vec<u8>, String>>,
    /// Gives signs; none where the system has no more to give.
    watcher: Option<RecommendedWatcher>,
    signs: Receiver<()>,
}

impl Disk {
    /// The disk with a job file that can be saved again.
    pub(super) fn of(job: &Path) -> Result<Self, Failure> {
        let shown = job.display();
        if job.as_os_str() == "-" {
            return Err(Failure(
                "standard input cannot be saved again; preview takes the name of a job file".to_owned(),
            ));
        }
        match job.metadata() {
            Err(error) => return Err(Failure(format!("{shown}: {}", files::reason(&error)))),
            Ok(about) if about.is_dir() => {
                return Err(Failure(format!("{shown}: this is a folder; give a file in it")));
            }
            Ok(about) if !about.is_file() => {
                return Err(Failure(format!("{shown} is no file that can be saved again")));
            }
            Ok(_) => {}
        }
        let (sender, signs) = sync_channel(1);
        // Reading is a sign too, and must not lead to reading. One sign that waits is as good as many.
        let watcher = notify::recommended_watcher(move |event: notify::Result<Event>| {
            if event.is_ok_and(|event| !event.kind.is_access()) {
                let _ = sender.try_send(());
            }
        });
        if let Err(why) = &watcher {
            say(&format!("{shown} is looked at every {} s: {why}", LOOK.as_secs()));
        }
        Ok(Self { job: job.to_owned(), used: Vec::new(), seen: Vec::new(), watcher: watcher.ok(), signs })
    }

    /// Reads the job, and remembers what was in its files.
    pub(super) fn read(&mut self) -> Result<JobText, Failure> {
        loop {
            // Looked at before it is read: what is saved in between is seen as a change.
            self.seen = self.contents();
            let text = files::read(&self.job)?;
            if text.used == self.used {
                return Ok(text);
            }
            self.used.clone_from(&text.used);
        }
    }

    /// Returns when a file is not as it was when it was read.
    pub(super) fn wait(&mut self) {
        self.watch();
        loop {
            let now = self.contents();
            if now != self.seen {
                return self.settle(now);
            }
            if self.signs.recv_timeout(LOOK) == Err(RecvTimeoutError::Disconnected) {
                thread::sleep(LOOK);
            }
        }
    }

    /// Waits until nobody writes any more.
    fn settle(&self, mut last: Vec<Result<Vec<u8>, String>>) {
        for _ in 0..PATIENCE {
            thread::sleep(QUIET);
            let now = self.contents();
            if now == last {
                return;
            }
            last = now;
        }
    }

    fn contents(&self) -> Vec<Result<Vec<u8>, String>> {
        let folder = files::folder(&self.job);
        let used = self.used.iter().map(|used| files::used_file(folder, used).map(|(_, bytes)| bytes));
        std::iter::once(files::contents(&self.job, files::LARGEST)).chain(used).collect()
    }

    /// Has the folders watched in which the files lie. The files themselves would not do: an editor may put a new file in
    /// the place of the old one. A folder that cannot be watched is looked at all the same.
    fn watch(&mut self) {
        let Some(watcher) = &mut self.watcher else { return };
        let folder = files::folder(&self.job);
        let used = self.used.iter().map(|used| folder.join(used));
        for path in std::iter::once(self.job.clone()).chain(used) {
            // Where a name is a link both ends can change.
            for path in [path.canonicalize().ok(), Some(path)].into_iter().flatten() {
                let _ = watcher.watch(files::folder(&path), RecursiveMode::NonRecursive);
            }
        }
    }
}
