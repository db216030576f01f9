//! The page that lies ready for whoever asks.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::output::{PageBody, Report, Served, served};

/// What is shown now. One thread lays pages on it, those that answer take them from it.
pub(super) struct Desk(Mutex<State>);

/// The page that lies there.
#[derive(Clone)]
pub(super) struct State {
    /// The document.
    pub(super) served: Arc<Served>,
    /// Whether the next one is being made.
    pub(super) busy: bool,
    /// The last page that could be made.
    page: Option<Arc<PageBody>>,
}

impl Desk {
    /// A desk before the first page.
    pub(super) fn new() -> Self {
        let served = Arc::new(served(&Report::Awaited, None));
        Self(Mutex::new(State { served, busy: true, page: None }))
    }

    /// The page, as it lies there now.
    pub(super) fn state(&self) -> State {
        self.lock().clone()
    }

    /// From now on the next page is being made.
    pub(super) fn busy(&self) {
        self.lock().busy = true;
    }

    /// Lays a new page on the desk.
    pub(super) fn show(&self, (report, page): (Report, PageBody)) {
        let served = Arc::new(served(&report, Some(&page)));
        *self.lock() = State { served, busy: false, page: Some(Arc::new(page)) };
    }

    /// Lays a report on the desk, above the page that lies there.
    pub(super) fn tell(&self, report: &Report) {
        let page = self.state().page;
        let served = Arc::new(served(report, page.as_deref()));
        *self.lock() = State { served, busy: false, page };
    }

    /// A state is replaced whole, and so is sound even when a thread died with it.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
