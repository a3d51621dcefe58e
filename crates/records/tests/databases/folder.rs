//! A folder that goes when it is no longer used.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

static NUMBER: AtomicU32 = AtomicU32::new(0);

/// A private folder.
pub struct Folder(PathBuf);

impl Folder {
    /// An empty one.
    pub fn new(name: &str) -> Self {
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("{name}-{}-{number}", std::process::id()));
        // One of a process that had the same id and was killed.
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir(&path).expect("a folder is created");
        Self(path)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
