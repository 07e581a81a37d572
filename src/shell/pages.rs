//! How things stand, from who knows it to who shows it: the control socket and the board.
//!
//! There is only ever the latest page. None is made while nobody reads.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use stillhand_engine::output::Status;
use stillhand_engine::units::Unit;
use tokio::sync::watch;

/// How things stand, for clients.
#[derive(Clone, Debug)]
pub struct Page {
    /// The engine's own words.
    pub status: Status,
    /// The name of the operator in force.
    pub operator: String,
    /// What waits for its moment, and for what, in words.
    pub waits: Option<String>,
    /// The names of the groups of axes, in the engine's order.
    pub groups: Vec<String>,
    /// How many gears each of them has.
    pub gears: Vec<u8>,
    /// The axes, in the rig file's order.
    pub axes: Vec<PageAxis>,
    /// What became of the last reference: whether it was taken, and in words.
    pub reference: (bool, String),
    /// The whole of it, as it is sent.
    pub json: serde_json::Value,
}

/// What can be asked of one axis is worked out from this.
#[derive(Clone, Debug)]
pub struct PageAxis {
    /// Its name.
    pub name: String,
    /// Degrees or millimetres.
    pub unit: Unit,
    /// Where it stands and how far it may go, in words.
    pub stands: String,
    /// Where it is, at rest; or why nobody can say.
    pub here: Result<f64, String>,
}

/// Where pages come from.
#[derive(Debug)]
pub struct Pages {
    latest: watch::Sender<Option<Arc<Page>>>,
    readers: Arc<AtomicUsize>,
}

impl Default for Pages {
    fn default() -> Pages {
        Pages {
            latest: watch::Sender::new(None),
            readers: Arc::default(),
        }
    }
}

impl Pages {
    /// Whether anybody would read a page.
    pub fn wanted(&self) -> bool {
        self.readers.load(Ordering::Relaxed) > 0
    }

    /// Shows how things stand now.
    pub fn show(&self, page: Page) {
        self.latest.send_replace(Some(Arc::new(page)));
    }

    /// Where readers begin.
    pub fn shelf(&self) -> Shelf {
        Shelf {
            latest: self.latest.subscribe(),
            readers: Arc::clone(&self.readers),
        }
    }
}

/// Where readers begin.
#[derive(Clone, Debug)]
pub struct Shelf {
    latest: watch::Receiver<Option<Arc<Page>>>,
    readers: Arc<AtomicUsize>,
}

impl Shelf {
    /// One reader more, as long as it lives. What is there is old: it was shown to somebody else.
    pub fn reader(&self) -> Reader {
        self.readers.fetch_add(1, Ordering::Relaxed);
        let mut reader = Reader {
            latest: self.latest.clone(),
            readers: Arc::clone(&self.readers),
        };
        reader.skip();
        reader
    }
}

/// Somebody who reads pages.
#[derive(Debug)]
pub struct Reader {
    latest: watch::Receiver<Option<Arc<Page>>>,
    readers: Arc<AtomicUsize>,
}

impl Reader {
    /// The next page not read yet, the latest there is; `None` when no more will come. Cancelled, it has read
    /// nothing.
    pub async fn next(&mut self) -> Option<Arc<Page>> {
        loop {
            self.latest.changed().await.ok()?;
            let page = self.latest.borrow_and_update().clone();
            if page.is_some() {
                return page;
            }
        }
    }

    /// What is there counts as read: only what is shown from now on is news.
    pub fn skip(&mut self) {
        self.latest.mark_unchanged();
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        self.readers.fetch_sub(1, Ordering::Relaxed);
    }
}
