//! The store: what is kept, in PostgreSQL. It takes recordings from the rules and gives facts back; it knows
//! nothing of HTTP or of the shapes on the wire.

pub mod accounts;
pub mod attributions;
pub mod audit;
pub mod backup;
pub mod books;
pub mod calls;
pub mod cluster;
pub mod connect;
pub mod costing;
pub mod deals;
pub mod dial;
pub mod documents;
pub mod entries;
pub mod episodes;
pub mod error;
pub mod furniture;
pub mod gifts;
pub mod idempotency;
pub mod labour;
pub mod ledger;
pub mod materials;
pub mod openings;
pub mod parties;
pub mod payouts;
mod pieces;
mod privileges;
pub mod projects;
pub mod purchases;
mod queue;
pub mod recording;
pub mod records;
pub mod replication;
pub mod revisions;
mod rows;
mod schema;
pub mod tax_years;
pub mod tokens;
pub mod tools;
pub mod trips;
pub mod verify;
pub mod versions;

use rust_decimal::Decimal;

use crate::rules::money::{Currency, Money};
use error::StoreError;

/// The one point where NUMERIC becomes money again.
fn money(column: &'static str, amount: Decimal, currency: Currency) -> Result<Money, StoreError> {
    Money::exact(amount, currency)
        .ok()
        .ok_or_else(|| StoreError::Unreadable { column, found: amount.to_string() })
}

/// A name in the database as the type it stands for.
fn read_as<T>(
    column: &'static str,
    text: &str,
    named: impl FnOnce(&str) -> Option<T>,
) -> Result<T, StoreError> {
    named(text).ok_or_else(|| StoreError::Unreadable { column, found: text.to_owned() })
}

/// Rows of records that nobody took back.
macro_rules! live {
    ($table:ident) => {
        diesel::dsl::not(diesel::dsl::exists(
            $crate::store::schema::record_reversals::table
                .filter($crate::store::schema::record_reversals::books_id.eq($table::books_id))
                .filter($crate::store::schema::record_reversals::record_id.eq($table::record_id)),
        ))
    };
}
use live;

/// Keeps only sales that stand: nobody took their record back, and the piece did not come back from the buyer.
macro_rules! standing_sale {
    () => {
        $crate::store::live!(piece_sales).and(diesel::dsl::not(diesel::dsl::exists(
            $crate::store::schema::piece_refunds::table
                .filter($crate::store::schema::piece_refunds::books_id.eq(piece_sales::books_id))
                .filter($crate::store::schema::piece_refunds::piece_id.eq(piece_sales::piece_id))
                .filter($crate::store::schema::piece_refunds::sale_id.eq(piece_sales::record_id))
                .filter($crate::store::schema::piece_refunds::back.eq("came_back"))
                .filter(diesel::dsl::not(diesel::dsl::exists(
                    $crate::store::schema::record_reversals::table
                        .filter(
                            $crate::store::schema::record_reversals::books_id
                                .eq($crate::store::schema::piece_refunds::books_id),
                        )
                        .filter(
                            $crate::store::schema::record_reversals::record_id
                                .eq($crate::store::schema::piece_refunds::record_id),
                        ),
                ))),
        )))
    };
}
use standing_sale;
