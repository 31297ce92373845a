package store

import (
	"context"
	"database/sql"
	"fmt"
)

// doubt asks for rows that cannot be so. The query gives where (text), what is wrong
// (text) and at most [mostProblems] rows.
type doubt struct {
	table, query, try string
}

const tryStrike = "strike it out with `lyefast reading strike`, or put back your last backup"

// doubts about batches and readings, beyond what constraints and foreign keys see.
var doubts = []doubt{
	{"batch", `SELECT 'batch ' || code, 'it has no batter' FROM batch AS b WHERE NOT EXISTS (SELECT 1 FROM batter WHERE batch_id = b.id)`, tryBackup},
	{"batch", `SELECT 'batch ' || code, 'it has no portion' FROM batch AS b WHERE NOT EXISTS (SELECT 1 FROM portion WHERE batch_id = b.id)`, tryBackup},
	{"batch", `SELECT 'batch ' || code, 'it was cut ' || cut_at || ', before it was poured ' || poured_at FROM batch WHERE cut_at < poured_at`,
		"note the cut again with `lyefast batch event CODE cut --at …`"},
	{"portion", `SELECT 'batch ' || b.code || ', portion ' || p.name, 'its batter ' || p.batter || ' is not there' FROM portion AS p JOIN batch AS b ON b.id = p.batch_id
		WHERE p.batter NOT IN (SELECT name FROM batter WHERE batch_id = b.id)`, tryBackup},
	{"event", `SELECT 'batch ' || b.code || ', event ' || e.id, 'it is of ' || e.batter || ' ' || e.portion || ', which is not there' FROM event AS e JOIN batch AS b ON b.id = e.batch_id
		WHERE e.batter <> '' AND e.batter NOT IN (SELECT name FROM batter WHERE batch_id = b.id)
		OR e.portion <> '' AND e.portion NOT IN (SELECT batter || '/' || name FROM portion WHERE batch_id = b.id UNION SELECT name FROM portion WHERE batch_id = b.id)`, tryEdit},
	{"weighing", `SELECT 'batch ' || b.code || ', weighing ' || w.id, 'it is of ' || w.batter || ', which is not there' FROM weighing AS w JOIN batch AS b ON b.id = w.batch_id
		WHERE w.batter NOT IN (SELECT name FROM batter WHERE batch_id = b.id)`, tryEdit},
	{"strike", `SELECT 'strike ' || id, 'it strikes out reading ' || reading_id || ', which is not there' FROM strike AS s
		WHERE NOT EXISTS (SELECT 1 FROM reading WHERE id = s.reading_id)`, tryBackup},
	{"reading", `SELECT 'reading ' || r.id, 'it was taken ' || datetime(r.taken_at, 'unixepoch') || ', more than a day before the pour of ' || b.code
		FROM portion AS p JOIN batch AS b ON b.id = p.batch_id JOIN reading AS r ON r.portion_id = p.id AND r.taken_at < unixepoch(b.poured_at) - 86400
		WHERE r.intake_id IN (SELECT id FROM intake)`, tryStrike},
	{"reading", `SELECT 'what came in as ' || i.id || coalesce(' (' || nullif(i.source, '') || ')', ''), i.readings || ' readings came in and ' || coalesce(n, 0) || ' are there'
		FROM intake AS i LEFT JOIN (SELECT intake_id, count(*) AS n FROM reading GROUP BY intake_id) AS r ON r.intake_id = i.id
		WHERE i.readings <> coalesce(n, 0)`, tryBackup},
	{"history_portion", `SELECT 'learned table ' || i.id || ' (' || i.source || ')', i.portions || ' rows came in and ' || coalesce(n, 0) || ' are there'
		FROM history_intake AS i LEFT JOIN (SELECT intake_id, count(*) AS n FROM history_portion GROUP BY intake_id) AS h ON h.intake_id = i.id
		WHERE i.portions <> coalesce(n, 0)`, tryBackup},
	{"history_dose", `SELECT 'learned dose ' || id, 'its portion ' || portion_id || ' is not there' FROM history_dose AS d
		WHERE NOT EXISTS (SELECT 1 FROM history_portion WHERE id = d.portion_id)`, tryBackup},
}

// batches finds what of batches, readings and learned tables cannot be so.
func (r *Report) batches(ctx context.Context, tx *Tx) error {
	for _, d := range doubts {
		columns, err := columnsOf(ctx, tx.tx, d.table)
		if err != nil {
			return err
		}
		if len(columns) == 0 {
			continue // a format from before there were any
		}
		if err := tx.each(ctx, d.query+fmt.Sprintf(` LIMIT %d`, mostProblems), nil, func(rows *sql.Rows) error {
			var where, what string
			if err := rows.Scan(&where, &what); err != nil {
				return err
			}
			r.add(Problem{where, what, d.try})
			return nil
		}); err != nil {
			return err
		}
	}
	if columns, err := columnsOf(ctx, tx.tx, "batch"); err != nil || len(columns) == 0 {
		return err
	}
	return tx.each(ctx, `SELECT code, code_key FROM batch`, nil, func(rows *sql.Rows) error {
		var code, key string
		if err := rows.Scan(&code, &key); err != nil {
			return err
		}
		if key != NameKey(code) {
			r.add(Problem{"batch " + code, fmt.Sprintf("it is filed under %q and cannot be found", key), tryBackup})
		}
		return nil
	})
}
