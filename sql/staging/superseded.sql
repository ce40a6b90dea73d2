-- needs: staging.brought_again, staging.fulfilled_plans
-- One row per delivered row of a trial that is brought again: after its plan, or by a later delivery.
create table staging.superseded as
select * from staging.fulfilled_plans
union all
select file, sheet, row_number, table_name, trial_id, 'superseded by ' || latest_delivery || ', received ' || latest_received as reason
from staging.brought_again
where not is_latest
  and (file, sheet, row_number) not in (select (p.file, p.sheet, p.row_number) from staging.fulfilled_plans as p);
comment on table staging.superseded is 'One row per delivered row that a later delivery of its trial, or what came of its plan, replaces';
