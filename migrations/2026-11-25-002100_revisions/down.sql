CREATE PROCEDURE close_labels(closed regclass, VARIADIC labels text[]) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('REVOKE UPDATE (version, %s) ON %s FROM ledgerboard_service',
                   (SELECT string_agg(quote_ident(label), ', ') FROM unnest(labels) label), closed);
    EXECUTE format('DROP TRIGGER revision_kept ON %s', closed);
    EXECUTE format('DROP TRIGGER labels_only ON %s', closed);
    EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON %s '
                   'FOR EACH ROW EXECUTE FUNCTION refuse_change()', closed);
    EXECUTE format('ALTER TABLE %s DROP COLUMN version', closed);
END
$$;
CALL close_labels('deals', 'title');
CALL close_labels('pieces', 'name');
CALL close_labels('tools', 'name');
CALL close_labels('money_accounts', 'name');
CALL close_labels('episodes', 'title', 'planned_on');
CALL close_labels('projects', 'name');
CALL close_labels('parties', 'name');
DROP PROCEDURE close_labels(regclass, text[]);
DROP PROCEDURE open_labels(regclass, text[]);
DROP FUNCTION revision_kept();
DROP FUNCTION labels_only();
DROP TABLE revisions;
DROP FUNCTION revision_follows();
