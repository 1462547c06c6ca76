//! Deleting a cluster for good, which only the demo's is.

use std::fs;
use std::path::Path;

use super::account::Account;
use super::error::ClusterError;
use super::folders;
use super::pidfile::PidFile;

/// Whether there is a cluster in the data folder.
/// # Errors
/// [`ClusterError::Folder`], [`ClusterError::NotACluster`].
pub fn holds_books(data_dir: &Path) -> Result<bool, ClusterError> {
    Ok(data_dir.exists() && folders::find_cluster(data_dir)?.is_some())
}

/// Deletes the clusters, logs and socket in the data folder, and the folder itself once it is empty. Answers the names of
/// what else is in it, which stays.
/// # Errors
/// [`ClusterError::StillServed`] if a server runs on it; [`ClusterError::Folder`].
pub async fn remove(data_dir: &Path) -> Result<Vec<String>, ClusterError> {
    let account = Account::for_data_dir(data_dir)?;
    let lock = folders::lock(data_dir, &account, folders::LOCK_LIMIT).await?;
    if let Some((folder, _)) = folders::find_cluster(data_dir)?
        && let Some(pid) = PidFile::read(&folder)?.and_then(|file| file.living_postmaster(&folder))
    {
        return Err(ClusterError::StillServed { folder: data_dir.to_path_buf(), pid });
    }
    let mut left = Vec::new();
    for entry in fs::read_dir(data_dir).map_err(ClusterError::folder("read", data_dir))? {
        let entry = entry.map_err(ClusterError::folder("read", data_dir))?;
        let (path, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
        let is_folder = entry.file_type().map_err(ClusterError::folder("read", &path))?.is_dir();
        let removed = match is_folder {
            _ if !is_of_a_cluster(&name) => {
                left.push(name);
                continue;
            }
            true => fs::remove_dir_all(&path),
            false => fs::remove_file(&path),
        };
        removed.map_err(ClusterError::folder("remove", &path))?;
    }
    drop(lock);
    if left.is_empty() {
        fs::remove_dir(data_dir).map_err(ClusterError::folder("remove", data_dir))?;
    }
    left.sort();
    Ok(left)
}

fn is_of_a_cluster(name: &str) -> bool {
    name == "run" || ["postgres-", "postgres.log", "cluster."].iter().any(|start| name.starts_with(start))
}
