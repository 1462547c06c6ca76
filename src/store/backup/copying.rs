//! The rows of a file into tables of the database.

use std::io::Cursor;
use std::pin::Pin;

use futures_util::SinkExt;
use tokio::sync::mpsc;
use tokio_postgres::{Client, CopyInSink};

use super::error::BackupError;
use super::reading::{BackupFile, Piece};
use super::{Manifest, Progress, columns_quoted};

/// Pieces that wait between the file and the database.
const WAITING: usize = 4;

/// Names the table, as SQL takes it, that the rows of a table in the file go to.
pub(super) type Goal<'a> = &'a (dyn Fn(&str) -> Option<String> + Sync);

type Sink = Pin<Box<CopyInSink<Cursor<Vec<u8>>>>>;

/// Reads the file a second time, on a thread of its own, and holds it to the manifest of the first time.
pub(super) async fn copy_in(
    client: &Client,
    file: &BackupFile,
    manifest: &Manifest,
    goal: Goal<'_>,
    progress: Progress<'_>,
) -> Result<(), BackupError> {
    let (sender, mut pieces) = mpsc::channel::<Piece>(WAITING);
    let from = file.clone();
    let reading = tokio::task::spawn_blocking(move || {
        from.read(|piece| sender.blocking_send(piece).ok().ok_or(BackupError::Stopped))
    });
    let mut open: Option<(String, Sink)> = None;
    let mut done = 0_usize;
    while let Some(piece) = pieces.recv().await {
        let same = open.as_ref().is_some_and(|(table, _)| *table == piece.table);
        if !same {
            if let Some((table, sink)) = open.take() {
                finish(file, manifest, &table, sink).await?;
            }
            done += 1;
            progress(&format!("table {done}: {}", piece.table));
            open = Some((piece.table.clone(), begin(client, file, manifest, goal, &piece.table).await?));
        }
        if let Some((table, sink)) = open.as_mut() {
            let action = format!("load the table {table}");
            sink.send(Cursor::new(piece.bytes)).await.map_err(BackupError::database(action))?;
        }
    }
    let again = reading.await.map_err(|error| BackupError::Differs(error.to_string()))??;
    if let Some((table, sink)) = open.take() {
        finish(file, manifest, &table, sink).await?;
    }
    if again == *manifest { Ok(()) } else { Err(file.damaged("it changed while it was read".to_owned())) }
}

async fn begin(
    client: &Client,
    file: &BackupFile,
    manifest: &Manifest,
    goal: Goal<'_>,
    table: &str,
) -> Result<Sink, BackupError> {
    let known = manifest.tables.iter().find(|known| known.name == table);
    let (known, goal) = known
        .zip(goal(table))
        .ok_or_else(|| file.damaged(format!("the manifest does not name the table {table}")))?;
    let statement = format!("COPY {goal} ({}) FROM STDIN", columns_quoted(&known.columns));
    let action = format!("load the table {table}");
    let sink = client.copy_in(statement.as_str()).await.map_err(BackupError::database(action))?;
    Ok(Box::pin(sink))
}

async fn finish(
    file: &BackupFile,
    manifest: &Manifest,
    table: &str,
    mut sink: Sink,
) -> Result<(), BackupError> {
    let action = format!("load the table {table}");
    let loaded = sink.as_mut().finish().await.map_err(BackupError::database(action))?;
    let expected = manifest.tables.iter().find(|known| known.name == table).map(|known| known.rows);
    if expected == Some(loaded) {
        return Ok(());
    }
    let expected = expected.unwrap_or_default();
    Err(file.damaged(format!("{loaded} rows of {table} were loaded instead of {expected}")))
}
