-- needs: reference.corrections, staging.correction_matches
-- One row per correction: how many rows it is about, how many it changed, and its state.
create table trials.corrections as
with rows as (
  select correction, file, sheet, row_number, bool_and(agrees) as agrees
  from staging.correction_matches group by correction, file, sheet, row_number
),
counted as (select correction, count(*) as n_rows, count(*) filter (where agrees) as n_changed from rows group by correction)
select c.correction, c.season, c.table_name, c.says, c.cause, c.who, c.date, c.treatment_known,
  coalesce(n.n_rows, 0) as n_rows, coalesce(n.n_changed, 0) as n_changed,
  case when coalesce(n.n_changed, 0) = 0 then 'no longer matches' when n.n_changed < n.n_rows then 'matches in part' else 'applied' end as state
from reference.corrections as c left join counted as n on n.correction = c.correction
order by c.position;
comment on table trials.corrections is 'One row per correction and what it changed';
