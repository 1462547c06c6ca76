//! The tables as the migrations make them; `tests/store.rs` holds this file against a migrated database.

diesel::table! {
    /// The chart of accounts of each books.
    accounts (books_id, code) {
        books_id -> Uuid,
        code -> Text,
        #[sql_name = "type"]
        type_ -> Text,
    }
}

diesel::table! {
    /// The only place where an episode's amounts come from: a dated share of one source; a correction is negative.
    attributions (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
        date -> Date,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        label -> Text,
        amount -> Numeric,
    }
}

diesel::table! {
    /// Who changed what by which request; written in the change's own transaction.
    audit_lines (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        token_id -> Nullable<Uuid>,
        request_id -> Uuid,
        action -> Text,
        record_id -> Nullable<Uuid>,
        about_token -> Nullable<Uuid>,
        about_books -> Nullable<Uuid>,
        at -> Timestamptz,
    }
}

diesel::table! {
    /// When each finished backup of this database was taken; it is about all books, so it belongs to none.
    backups_made (taken_at) {
        taken_at -> Timestamptz,
        finished_at -> Timestamptz,
    }
}

diesel::table! {
    /// One business's set of books; every other row belongs to one.
    books (books_id) {
        books_id -> Uuid,
        name -> Text,
        base_currency -> Text,
        accounting_method -> Text,
        materials_timing -> Text,
        materials_flow -> Text,
        tax_profile -> Text,
        time_zone -> Text,
        fiscal_year_start_month -> Int4,
        began_on -> Date,
        mark -> Nullable<Text>,
        closed_through -> Nullable<Date>,
        head_number -> Int8,
        head_hash -> Bytea,
        cursor_key -> Bytea,
        created_at -> Timestamptz,
        moved_to -> Nullable<Text>,
        moved_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    /// What a project may cost, by category, with an episode named where wanted.
    budget_lines (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        project_id -> Uuid,
        episode_id -> Nullable<Uuid>,
        category -> Text,
        amount -> Numeric,
    }
}

diesel::table! {
    /// Section 179 of returns from before the books that their income did not allow.
    carry_overs (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        tax_year -> Int4,
        amount -> Numeric,
    }
}

diesel::table! {
    /// What went back to a sponsor.
    clawbacks (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        paid_on -> Date,
        counts -> Numeric,
        amount -> Numeric,
    }
}

diesel::table! {
    /// The episodes and projects a deal counts for, by weight.
    deal_shares (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        weight -> Numeric,
    }
}

diesel::table! {
    /// Agreements with sponsors.
    deals (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        sponsor_id -> Uuid,
        agency_id -> Nullable<Uuid>,
        title -> Text,
        agreed_on -> Date,
        currency -> Text,
        agreed -> Numeric,
        paid_before -> Numeric,
        version -> Int4,
    }
}

diesel::table! {
    /// Always empty: a preview inserts a row, which runs the deferred checks at once, and rolls it back.
    deferred_checks (books_id) {
        books_id -> Uuid,
    }
}

diesel::table! {
    /// Which record a document proves; it counts while both the attachment and the proved record stand.
    document_attachments (books_id, record_id, document_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        document_id -> Uuid,
        proves -> Uuid,
    }
}

diesel::table! {
    /// The bytes of documents under their SHA-256; the same file sent twice is kept once.
    document_files (books_id, sha256) {
        books_id -> Uuid,
        sha256 -> Bytea,
        bytes -> Bytea,
    }
}

diesel::table! {
    /// Pictures and papers that prove records; those that prove none wait in the inbox.
    documents (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        name -> Nullable<Text>,
        kind -> Text,
        width -> Nullable<Int8>,
        height -> Nullable<Int8>,
        location -> Text,
        received_on -> Date,
        sha256 -> Bytea,
        size -> Int4,
    }
}

diesel::table! {
    /// The journal: numbered without gaps, append-only, chained by hash.
    entries (books_id, number) {
        books_id -> Uuid,
        number -> Int8,
        record_id -> Uuid,
        place -> Int4,
        date -> Date,
        kind -> Text,
        text -> Text,
        reverses -> Nullable<Int8>,
        hash -> Bytea,
        form -> Int4,
    }
}

diesel::table! {
    /// One published or planned piece about a project: the cost object.
    episodes (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        project_id -> Uuid,
        title -> Text,
        planned_on -> Nullable<Date>,
        published_on -> Nullable<Date>,
        version -> Int4,
    }
}

diesel::table! {
    /// The lines of a form as they were filed: money to the cent or miles, and in whole units.
    filed_lines (books_id, record_id, place) {
        books_id -> Uuid,
        record_id -> Uuid,
        place -> Int4,
        part -> Text,
        line -> Text,
        label -> Text,
        exact -> Nullable<Numeric>,
        whole -> Nullable<Numeric>,
    }
}

diesel::table! {
    /// Returns that were filed, the first of a year and amended ones.
    filings (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        tax_year -> Int4,
        filed_on -> Date,
        /// The ledger's last entry when it was filed.
        head_number -> Int8,
    }
}

diesel::table! {
    /// Goods received: a row as they came, and one more for each later decision on their fate.
    gifts (books_id, record_id, place) {
        books_id -> Uuid,
        record_id -> Uuid,
        place -> Int4,
        gift_id -> Uuid,
        party_id -> Uuid,
        what -> Text,
        relation -> Text,
        received_on -> Date,
        value -> Nullable<Numeric>,
        evidence -> Nullable<Text>,
        fate -> Text,
        fate_on -> Nullable<Date>,
        source_id -> Nullable<Uuid>,
        deal_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    /// Areas of the home with the days of their use; what is in use on the same day is added up.
    home_office_areas (books_id, record_id, place) {
        books_id -> Uuid,
        record_id -> Uuid,
        place -> Int4,
        from_date -> Date,
        /// The last day; none where it went on.
        until_date -> Nullable<Date>,
        square_feet -> Numeric,
    }
}

diesel::table! {
    /// A home office by the simplified method, for one tax year.
    home_offices (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        tax_year -> Int4,
    }
}

diesel::table! {
    /// The first answer to each key, written in the transaction of what it answers; kept for a week.
    idempotency_answers (books_id, key) {
        books_id -> Uuid,
        key -> Text,
        payload_hash -> Bytea,
        status -> Int4,
        body -> Bytea,
        at -> Timestamptz,
    }
}

diesel::table! {
    /// Each sum that came in on a deal, and what was kept of it on the way.
    instalments (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        counts -> Numeric,
        gross -> Numeric,
        settled -> Numeric,
        exchange_gain -> Numeric,
        kept_by_agency -> Numeric,
        kept_by_bank -> Numeric,
        tax_withheld -> Numeric,
        net -> Numeric,
        received_from -> Text,
        income_on -> Date,
        received_on -> Date,
    }
}

diesel::table! {
    /// The parts of a deal's total and their days, in the deal's own currency.
    instalments_due (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        due_on -> Date,
        amount -> Numeric,
        what -> Text,
    }
}

diesel::table! {
    /// What was invoiced to sponsors.
    invoices (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        invoiced_on -> Date,
        what -> Text,
        counts -> Numeric,
        booked -> Nullable<Numeric>,
    }
}

diesel::table! {
    /// Hours by a person; the owner's own never enter the ledger.
    labour_entries (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        person -> Text,
        standing -> Text,
        date -> Date,
        hours -> Numeric,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        piece_id -> Nullable<Uuid>,
        paid -> Numeric,
    }
}

diesel::table! {
    /// What left a lot or came back; negative leaves.
    lot_moves (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        lot_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        kind -> Text,
        quantity -> Numeric,
        cost -> Numeric,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        piece_id -> Nullable<Uuid>,
        treatment -> Text,
    }
}

diesel::table! {
    /// Stock left from a purchase; lots of one material share its name.
    lots (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
        material -> Text,
        unit -> Text,
        bought_unit -> Nullable<Text>,
        bought_factor -> Nullable<Text>,
        quantity -> Numeric,
        cost -> Numeric,
        acquired_on -> Date,
        treatment -> Text,
        category -> Text,
        standing -> Text,
    }
}

diesel::table! {
    /// Where money sits; each but the own pocket has an account in the journal, named money and its id.
    money_accounts (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        name -> Text,
        kind -> Text,
        currency -> Text,
        version -> Int4,
    }
}

diesel::table! {
    /// What happened to a source: it came, was incurred, went back or left. The roll-forward reads it.
    movements (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
        date -> Date,
        kind -> Text,
        amount -> Numeric,
        entry_number -> Nullable<Int8>,
    }
}

diesel::table! {
    /// Records whose costs belong to a pool, whatever their class.
    overhead_pool_records (books_id, pool_id, record_id) {
        books_id -> Uuid,
        pool_id -> Uuid,
        record_id -> Uuid,
    }
}

diesel::table! {
    /// Costs of some days that are spread together; its id is its record's.
    overhead_pools (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        name -> Text,
        from_date -> Date,
        to_date -> Date,
        classes -> Array<Text>,
        estimated_cost -> Nullable<Numeric>,
        estimated_hours -> Nullable<Numeric>,
    }
}

diesel::table! {
    /// Each spreading of overhead: what it went by, what the base bore, what there was.
    overhead_spreads (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        pool_id -> Nullable<Uuid>,
        date -> Date,
        from_date -> Date,
        to_date -> Date,
        basis -> Text,
        rate -> Text,
        base -> Numeric,
        applied -> Numeric,
        there -> Numeric,
        spread -> Numeric,
    }
}

diesel::table! {
    /// Anyone money passes to or from.
    parties (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        name -> Text,
        role -> Text,
        version -> Int4,
    }
}

diesel::table! {
    /// One platform statement each: gross, what was kept, and the day the rest reached the owner.
    payouts (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        platform_id -> Uuid,
        account_id -> Uuid,
        income_on -> Date,
        received_on -> Date,
        gross -> Numeric,
        fees -> Numeric,
        tax_withheld -> Numeric,
        reserve_held -> Numeric,
        reserve_released -> Numeric,
        adjustments -> Numeric,
        net -> Numeric,
    }
}

diesel::table! {
    /// Closing and reopening are explicit, recorded acts.
    period_acts (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        kind -> Text,
        closed_through -> Date,
        reason -> Text,
        after_number -> Int8,
    }
}

diesel::table! {
    /// Pieces in shops that sell them for a commission; they stay in these books.
    piece_consignments (books_id, piece_id, record_id) {
        books_id -> Uuid,
        piece_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        act -> Text,
        shop_id -> Uuid,
        commission -> Numeric,
    }
}

diesel::table! {
    /// What buyers put down on pieces, and what became of it.
    piece_deposits (books_id, piece_id, record_id) {
        books_id -> Uuid,
        piece_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        act -> Text,
        amount -> Numeric,
    }
}

diesel::table! {
    /// How a piece left without a sale; once, unless it was reversed.
    piece_leavings (books_id, piece_id, record_id) {
        books_id -> Uuid,
        piece_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        how -> Text,
        cost -> Numeric,
    }
}

diesel::table! {
    /// What buyers got back after a sale, and whether the piece came back.
    piece_refunds (books_id, piece_id, record_id) {
        books_id -> Uuid,
        piece_id -> Uuid,
        record_id -> Uuid,
        sale_id -> Uuid,
        date -> Date,
        amount -> Numeric,
        fees_back -> Numeric,
        back -> Text,
    }
}

diesel::table! {
    /// The sale of a piece; once, unless it was reversed.
    piece_sales (books_id, piece_id, record_id) {
        books_id -> Uuid,
        piece_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        gross -> Numeric,
        fees -> Numeric,
        basis -> Nullable<Numeric>,
        basis_for_loss -> Nullable<Numeric>,
        character -> Text,
    }
}

diesel::table! {
    /// Pieces of furniture.
    pieces (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
        name -> Text,
        origin -> Text,
        purpose -> Text,
        acquired_on -> Date,
        basis -> Nullable<Numeric>,
        value -> Nullable<Numeric>,
        treatment -> Text,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        version -> Int4,
    }
}

diesel::table! {
    /// The lines of entries; they carry no episode.
    postings (books_id, entry_number, line) {
        books_id -> Uuid,
        entry_number -> Int8,
        line -> Int4,
        account -> Text,
        amount -> Numeric,
        tax_class -> Nullable<Text>,
        tax_year -> Int4,
    }
}

diesel::table! {
    /// One renovation or makeover, which carries episodes and may carry costs of its own.
    projects (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        name -> Text,
        place -> Text,
        version -> Int4,
    }
}

diesel::table! {
    /// What was promised to a sponsor by when.
    promises (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        deal_id -> Uuid,
        what -> Text,
        episode_id -> Nullable<Uuid>,
        due_on -> Date,
    }
}

diesel::table! {
    /// When a promise was kept; once, unless that was reversed.
    promises_kept (books_id, promise_id, record_id) {
        books_id -> Uuid,
        promise_id -> Uuid,
        record_id -> Uuid,
        kept_on -> Date,
        kept_where -> Nullable<Text>,
    }
}

diesel::table! {
    /// What each share of a line is to the tax office.
    purchase_line_treatments (books_id, record_id, position, part, place) {
        books_id -> Uuid,
        record_id -> Uuid,
        position -> Int4,
        part -> Int4,
        place -> Int4,
        treatment -> Text,
        amount -> Numeric,
    }
}

diesel::table! {
    /// The lines of a receipt after tax, delivery and discount were spread over them.
    purchase_lines (books_id, record_id, position, part) {
        books_id -> Uuid,
        record_id -> Uuid,
        position -> Int4,
        part -> Int4,
        text -> Text,
        source_id -> Uuid,
        amount -> Numeric,
        vehicle -> Nullable<Text>,
    }
}

diesel::table! {
    /// A record that stands on another: the other can not be reversed while this one stands.
    record_links (books_id, record_id, depends_on) {
        books_id -> Uuid,
        record_id -> Uuid,
        depends_on -> Uuid,
    }
}

diesel::table! {
    /// Which episodes and projects a record is about, for lists; amounts are in attributions.
    record_objects (books_id, record_id, place) {
        books_id -> Uuid,
        record_id -> Uuid,
        place -> Int4,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    /// A record is reversed once, by a record of its own; read either way round.
    record_reversals (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        reversal_id -> Uuid,
    }
}

diesel::table! {
    /// What was recorded, as the person stated it.
    records (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        word -> Text,
        kind -> Text,
        date -> Date,
        party_id -> Nullable<Uuid>,
        text -> Text,
        streams -> Array<Text>,
        facts -> Jsonb,
        notes -> Array<Text>,
        created_at -> Timestamptz,
        replaces -> Nullable<Uuid>,
    }
}

diesel::table! {
    /// What the labels of things were changed to, each time.
    revisions (books_id, thing_id, version) {
        books_id -> Uuid,
        thing_id -> Uuid,
        version -> Int4,
        thing -> Text,
        audit_id -> Uuid,
        changed -> Jsonb,
        before -> Jsonb,
        labels -> Jsonb,
        at -> Timestamptz,
    }
}

diesel::table! {
    /// What instalments paid of invoices.
    settlements (books_id, record_id, invoice_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        invoice_id -> Uuid,
        counts -> Numeric,
        booked -> Numeric,
    }
}

diesel::table! {
    /// Where costs, incomes, fees and recoveries come from: a receipt's line, a lot, a tool, a payout.
    sources (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        side -> Text,
        kind -> Text,
        text -> Text,
    }
}

diesel::table! {
    /// Choices a taxpayer records for a year; what is not chosen follows the law's default.
    tax_year_elections (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        tax_year -> Int4,
        kind -> Text,
        recovery_class -> Nullable<Text>,
    }
}

diesel::table! {
    /// Which books a token opens whose text does not name them: tokens made before 2026-12-01.
    token_directory (hash) {
        hash -> Bytea,
        books_id -> Uuid,
    }
}

diesel::table! {
    /// What opens the books over HTTP; the token itself is shown once and never kept.
    tokens (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        name -> Text,
        scope -> Text,
        hash -> Bytea,
        created_at -> Timestamptz,
        expires_at -> Nullable<Timestamptz>,
        revoked_at -> Nullable<Timestamptz>,
        last_used_at -> Nullable<Timestamptz>,
        replaces -> Nullable<Uuid>,
    }
}

diesel::table! {
    /// How much of a tool's use was business in a tax year, and in those after it until another is stated.
    tool_business_shares (books_id, tool_id, record_id) {
        books_id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        tax_year -> Int4,
        share -> Numeric,
    }
}

diesel::table! {
    /// What closing a tax year posted of each tool; negative where it was taken back.
    tool_charges (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        tool_id -> Nullable<Uuid>,
        tax_year -> Int4,
        kind -> Text,
        small_tool -> Numeric,
        section_179 -> Numeric,
        depreciation -> Numeric,
        recaptured -> Numeric,
    }
}

diesel::table! {
    /// How a tool left.
    tool_disposals (books_id, tool_id, record_id) {
        books_id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        kind -> Text,
        proceeds -> Numeric,
    }
}

diesel::table! {
    /// How a tool's life is seen from a day on; uses before it stay as they are.
    tool_estimates (books_id, tool_id, record_id) {
        books_id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        method -> Text,
        hours_expected -> Nullable<Numeric>,
        months -> Nullable<Int4>,
        hours_run -> Numeric,
        salvage -> Numeric,
        left_to_attribute -> Numeric,
    }
}

diesel::table! {
    /// Tools that are an improvement of another, written off by themselves from their own day.
    tool_improvements (books_id, tool_id) {
        books_id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        improves -> Uuid,
    }
}

diesel::table! {
    /// Lines of receipts that repaired a tool: costs of their days, not of the tool.
    tool_repairs (books_id, source_id) {
        books_id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
    }
}

diesel::table! {
    /// When a tool worked for which episode.
    tool_uses (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        tool_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        episode_id -> Nullable<Uuid>,
        project_id -> Nullable<Uuid>,
        hours -> Nullable<Numeric>,
        share -> Nullable<Numeric>,
    }
}

diesel::table! {
    /// Durable things used on many episodes.
    tools (books_id, id) {
        books_id -> Uuid,
        id -> Uuid,
        record_id -> Uuid,
        source_id -> Uuid,
        name -> Text,
        origin -> Text,
        acquired_on -> Date,
        in_service_on -> Date,
        cost -> Numeric,
        basis_for_gain -> Numeric,
        invoice_price -> Numeric,
        salvage -> Numeric,
        method -> Text,
        hours_expected -> Nullable<Numeric>,
        months -> Nullable<Int4>,
        recovery_class -> Text,
        property_type -> Text,
        vehicle_pounds -> Nullable<Int4>,
        vehicle_body -> Nullable<Text>,
        tax_choice -> Text,
        section_179 -> Numeric,
        business_share -> Numeric,
        prior_taken -> Nullable<Numeric>,
        prior_convention -> Nullable<Text>,
        prior_first_year -> Nullable<Numeric>,
        hours_before -> Numeric,
        version -> Int4,
    }
}

diesel::table! {
    /// Business miles or kilometres with a purpose, at the standard rate.
    trips (books_id, record_id) {
        books_id -> Uuid,
        record_id -> Uuid,
        date -> Date,
        vehicle -> Text,
        distance -> Numeric,
        unit -> Text,
        purpose -> Text,
        rate -> Numeric,
        amount -> Numeric,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    accounts,
    attributions,
    audit_lines,
    books,
    budget_lines,
    carry_overs,
    clawbacks,
    deal_shares,
    deals,
    deferred_checks,
    document_attachments,
    document_files,
    documents,
    entries,
    episodes,
    filed_lines,
    filings,
    gifts,
    home_office_areas,
    home_offices,
    idempotency_answers,
    instalments,
    instalments_due,
    invoices,
    labour_entries,
    lot_moves,
    lots,
    money_accounts,
    movements,
    overhead_pool_records,
    overhead_pools,
    overhead_spreads,
    parties,
    payouts,
    period_acts,
    piece_consignments,
    piece_deposits,
    piece_leavings,
    piece_refunds,
    piece_sales,
    pieces,
    postings,
    projects,
    promises,
    promises_kept,
    purchase_line_treatments,
    purchase_lines,
    record_links,
    record_objects,
    record_reversals,
    records,
    revisions,
    settlements,
    sources,
    tax_year_elections,
    token_directory,
    tokens,
    tool_business_shares,
    tool_charges,
    tool_disposals,
    tool_estimates,
    tool_improvements,
    tool_repairs,
    tool_uses,
    tools,
    trips,
);
