-- needs: staging.translated_rows, staging.patches
-- Every delivered row as it is to be read: translated, then corrected.
create view staging.delivered_rows as
select r.file, r.delivery, r.season, r.sheet, r.row_number, r.table_name,
  case when p.patch is null then r.cells else json_merge_patch(r.cells, p.patch) end as cells
from staging.translated_rows as r
left join staging.patches as p on p.file = r.file and p.sheet is not distinct from r.sheet and p.row_number = r.row_number;
comment on view staging.delivered_rows is 'One row per delivered row, translated and corrected';
