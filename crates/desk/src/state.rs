//! What the server knows: the open examination, work in progress, pictures at hand.

use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};

use archive::{Capture, Examination};
use examine::forms::Memory;
use moka::sync::Cache;
use picture::Pyramid;
use tokio::sync::watch;
use wire::desk::PageForm;
use wire::weigh::KeptWeighing;

use crate::answer::Refusal;
use crate::guard::Guard;
use crate::jobs::Jobs;
use crate::recent::Recent;

/// Memory for decoded pictures, bytes: four of 50 MP with their smaller levels (ours).
const PYRAMIDS_BYTES: u64 = 800 << 20;
/// Memory for drawn tiles, bytes (ours).
const TILES_BYTES: u64 = 128 << 20;

/// Pages of results kept at hand; one is some hundred kilobytes (ours).
const PAGES: u64 = 64;

/// The server's state, shared by all requests.
pub type Shared = Arc<Desk>;

/// See the module.
pub struct Desk {
    /// Who is let in.
    pub guard: Guard,
    /// Work in progress.
    pub jobs: Jobs,
    /// Hears of every change made through this server.
    pub changed: watch::Sender<u64>,
    /// Folders opened before.
    pub recent: Recent,
    /// Decoded pictures, by SHA-256.
    pub pyramids: Cache<String, Arc<Pyramid>>,
    /// Drawn tiles, by SHA-256 and request.
    pub tiles: Cache<String, Arc<Vec<u8>>>,
    /// What pages show of captures.
    pub memory: Memory,
    /// Pages of results, by examination, revision and name.
    pub pages: Cache<String, Arc<PageForm>>,
    /// The last weighing of measurements that came in a file.
    weighed_file: RwLock<Option<Arc<WeighedFile>>>,
    folder: RwLock<Option<PathBuf>>,
}

/// Somebody's measurements, weighed; belongs to no examination.
pub struct WeighedFile {
    /// Name of the file.
    pub name: String,
    /// The answer.
    pub kept: KeptWeighing,
}

impl Desk {
    /// A server's state, with no examination open.
    pub fn new(guard: Guard) -> Self {
        let (changed, _) = watch::channel(0);
        let pyramid_bytes = |_: &String, pyramid: &Arc<Pyramid>| {
            let (width, height) = pyramid.size();
            u32::try_from(width * height * 4).unwrap_or(u32::MAX)
        };
        let tile_bytes = |_: &String, tile: &Arc<Vec<u8>>| u32::try_from(tile.len()).unwrap_or(u32::MAX);
        Self {
            guard,
            jobs: Jobs::new(changed.clone()),
            changed,
            recent: Recent::of_this_user(),
            pyramids: Cache::builder().max_capacity(PYRAMIDS_BYTES).weigher(pyramid_bytes).build(),
            tiles: Cache::builder().max_capacity(TILES_BYTES).weigher(tile_bytes).build(),
            memory: Memory::default(),
            pages: Cache::new(PAGES),
            weighed_file: RwLock::new(None),
            folder: RwLock::new(None),
        }
    }

    /// The open examination's folder.
    pub fn folder(&self) -> Option<PathBuf> {
        self.folder.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Makes this the open examination.
    pub fn open(&self, folder: &Path) {
        self.recent.remember(folder);
        *self.folder.write().unwrap_or_else(PoisonError::into_inner) = Some(folder.to_path_buf());
        crate::jobs::tell(&self.changed);
    }

    /// Closes the open examination.
    pub fn close(&self) {
        *self.folder.write().unwrap_or_else(PoisonError::into_inner) = None;
        crate::jobs::tell(&self.changed);
    }

    /// Does something with the open examination. Each request opens the database for itself: a connection belongs to
    /// one thread, and another program may be working on the same folder.
    ///
    /// # Errors
    /// None is open, it cannot be opened, or what is done with it fails.
    pub fn with<T>(&self, job: impl FnOnce(&Examination) -> Result<T, Refusal>) -> Result<T, Refusal> {
        let folder =
            self.folder().ok_or_else(|| Refusal::busy("no examination is open; open or begin one first"))?;
        job(&Examination::open(&folder)?)
    }

    /// Keeps the last weighing of a file.
    pub fn keep_weighed(&self, weighed: WeighedFile) {
        *self.weighed_file.write().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(weighed));
    }

    /// The last weighing of a file.
    pub fn weighed(&self) -> Option<Arc<WeighedFile>> {
        self.weighed_file.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The capture of the open examination whose original has this SHA-256.
    ///
    /// # Errors
    /// As [`Desk::with`]; no such capture.
    pub fn picture(&self, sha256: &str) -> Result<Capture, Refusal> {
        let found = self.with(|examination| Ok(examination.capture_of(sha256)?))?;
        found.ok_or_else(|| {
            Refusal::missing("no capture of this examination has an original with this SHA-256")
        })
    }
}

/// Runs what reads disks or draws pictures off the threads that answer requests.
///
/// # Errors
/// Those of `job`; a panic inside it.
pub async fn off_thread<T: Send + 'static>(
    job: impl FnOnce() -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refusal> {
    let inside =
        |_| Refusal::with(500, "the program failed inside; what was done before is kept. Reload the page");
    tokio::task::spawn_blocking(job).await.map_err(inside)?
}
