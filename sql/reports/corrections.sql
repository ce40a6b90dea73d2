-- needs: trials.corrections, reference.correction_changes
-- One row per correction: cause, who, when, what it changes in words, and whether it still applies.
create view reports.corrections as
select
  c.*,
  (
    select string_agg(
      case when x.moved_to is not null then x.heading || ' moved to ' || x.moved_to
        else x.heading || ' ' || coalesce(nullif(x.old, ''), 'blank') || ' to ' || coalesce(nullif(x.new, ''), 'blank') end, ', ' order by x.heading
    )
    from reference.correction_changes as x where x.correction = c.correction
  ) as changes
from trials.corrections as c;
comment on view reports.corrections is 'One row per correction';
