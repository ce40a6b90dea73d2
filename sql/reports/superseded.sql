-- needs: staging.superseded
-- One row per delivered row that a later delivery of its trial, or what came of its plan, replaced.
create view reports.superseded as select * from staging.superseded order by file, sheet, row_number;
comment on view reports.superseded is 'One row per superseded row';
