//! New files that are to outlast a pulled plug.

use std::{fs::File, path::Path};

/// Makes the new name itself durable where the system lets a folder be synced; elsewhere nothing can be done.
pub fn sync_folder_of(path: &Path) {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}
