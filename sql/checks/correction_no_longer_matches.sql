-- severity: noted
-- says: a correction finds the rows and the old values it expects
-- asks: analyst
-- needs: reference.corrections, staging.correction_matches
-- rows of: reference.corrections
with failing as (
  select correction, file, sheet, min(row_number) as row_number, count(distinct row_number) as n_rows, bool_or(is_contested) as is_contested,
    arg_min(
      case when is_contested then heading || ' is changed by ' || rival || ' too'
        else heading || ' is "' || stands || '"' || coalesce(' (' || rival || ' changes it to "' || old || '")', '') end,
      row_number
    ) as first,
    arg_min(coalesce('"' || old || '"', 'something to move'), row_number) as expects,
    bool_or(rival is not null) as has_rival
  from staging.correction_matches where not agrees group by correction, file, sheet
)
select f.file, f.sheet, f.row_number, c.table_name, null as column_name, null as trial_id, null as site_id,
  f.first || case when f.n_rows > 1 then ' and ' || (f.n_rows - 1) || ' more rows' else '' end as found,
  case when f.is_contested then 'one correction of a cell, not ' || c.correction || ' and another'
    else f.expects || ', per ' || c.correction end as expected,
  case when f.is_contested then 'keep one of them; neither was applied here'
    when f.has_rival then 'a correction is compared with what was delivered: write one entry from the delivered value to the last one; it changed nothing here'
    else 'the row changed since, or was corrected at its source: review the correction; it changed nothing here' end as mend
from failing as f inner join reference.corrections as c on c.correction = f.correction
union all
select c.correction, null, null, c.table_name, null, null, null,
  'no row of season ' || c.season || ' where ' || c.says as found, 'at least one row' as expected, 'correct the conditions, or remove the correction' as mend
from reference.corrections as c
where c.correction not in (select correction from staging.correction_matches)
