//! What the triggers before an insert hold in books that are written row by row, asked of books that came as a whole.
//!
//! That entries have no gaps, are chained, and keep out of closed days is not asked here: verifying recomputes it.

use tokio_postgres::Client;

use super::super::error::BackupError;
use super::super::quoted;

/// What must hold, and a query for the ids where it does not; fenced to the books of the transaction.
const ASKED: [(&str, &str); 8] = [
    // A return that was taken back again counts as a return: nothing looks at the sales behind it then.
    (
        "a piece leaves once",
        "SELECT piece_id::text FROM ( \
            SELECT s.piece_id, s.record_id FROM piece_sales s WHERE s.books_id = current_books() \
              AND NOT EXISTS (SELECT FROM piece_refunds f WHERE f.books_id = s.books_id \
                              AND f.piece_id = s.piece_id AND f.sale_id = s.record_id AND f.back = 'came_back') \
            UNION ALL SELECT l.piece_id, l.record_id FROM piece_leavings l WHERE l.books_id = current_books() \
         ) went WHERE NOT EXISTS (SELECT FROM record_reversals r \
                                  WHERE r.books_id = current_books() AND r.record_id = went.record_id) \
         GROUP BY piece_id HAVING count(DISTINCT record_id) > 1",
    ),
    (
        "a piece leaves after it came",
        "SELECT p.id::text FROM ( \
            SELECT piece_id, date FROM piece_sales WHERE books_id = current_books() \
            UNION ALL SELECT piece_id, date FROM piece_leavings WHERE books_id = current_books() \
         ) went JOIN pieces p ON p.books_id = current_books() AND p.id = went.piece_id WHERE went.date < p.acquired_on",
    ),
    (
        "a year's share of a tool is stated once",
        "SELECT s.tool_id::text FROM tool_business_shares s WHERE s.books_id = current_books() \
           AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = s.books_id AND r.record_id = s.record_id) \
         GROUP BY s.tool_id, s.tax_year HAVING count(DISTINCT s.record_id) > 1",
    ),
    (
        "a share of a tool is stated for years of its service",
        "SELECT t.id::text FROM tool_business_shares s JOIN tools t ON t.books_id = s.books_id AND t.id = s.tool_id \
         WHERE s.books_id = current_books() AND s.tax_year < EXTRACT(YEAR FROM t.in_service_on)",
    ),
    (
        "a promise is kept once",
        "SELECT k.promise_id::text FROM promises_kept k WHERE k.books_id = current_books() \
           AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = k.books_id AND r.record_id = k.record_id) \
         GROUP BY k.promise_id HAVING count(DISTINCT k.record_id) > 1",
    ),
    (
        "a promise is kept after it was made",
        "SELECT p.id::text FROM promises_kept k \
         JOIN promises p ON p.books_id = k.books_id AND p.id = k.promise_id \
         JOIN deals d ON d.books_id = p.books_id AND d.id = p.deal_id \
         WHERE k.books_id = current_books() AND k.kept_on < d.agreed_on",
    ),
    (
        "a year's home office is stated once",
        "SELECT h.tax_year::text FROM home_offices h WHERE h.books_id = current_books() \
           AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = h.books_id AND r.record_id = h.record_id) \
         GROUP BY h.tax_year HAVING count(*) > 1",
    ),
    (
        "the history of labels has no gap",
        "SELECT thing_id::text FROM revisions WHERE books_id = current_books() \
         GROUP BY thing_id HAVING max(version) <> count(*) + 1",
    ),
];

/// The tables whose labels have a history.
const LABELED: &str = "SELECT c.relname::text FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid \
    WHERE c.relnamespace = 'public'::regnamespace AND t.tgname = 'labels_only' ORDER BY c.relname";

/// Asks it of the books that the running transaction is fenced to.
/// # Errors
/// [`BackupError::ImportDiffers`] names what does not hold, and where.
pub(super) async fn insist(client: &Client) -> Result<(), BackupError> {
    for (says, question) in ASKED {
        insist_on(client, says, question).await?;
    }
    let failed = || BackupError::database("read which tables have labels");
    for row in client.query(LABELED, &[]).await.map_err(failed())? {
        let table: String = row.try_get(0).map_err(failed())?;
        let question = format!(
            "SELECT t.id::text FROM {} t WHERE t.books_id = current_books() AND t.version <> 1 + (SELECT count(*) \
             FROM revisions r WHERE r.books_id = t.books_id AND r.thing_id = t.id)",
            quoted(&table)
        );
        insist_on(client, &format!("each version of {table} is in the history"), &question).await?;
    }
    Ok(())
}

async fn insist_on(client: &Client, says: &str, question: &str) -> Result<(), BackupError> {
    let failed = || BackupError::database(format!("look whether {says}"));
    let found = client.query(&format!("{question} LIMIT 1"), &[]).await.map_err(failed())?;
    match found.first() {
        Some(row) => {
            let at: String = row.try_get(0).map_err(failed())?;
            Err(BackupError::ImportDiffers(format!("{says}, and that does not hold at {at}")))
        }
        None => Ok(()),
    }
}
