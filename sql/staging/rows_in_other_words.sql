-- needs: raw.rows, staging.sheets, staging.headings, reference.senders_words
-- Every delivered row of a sheet whose sender uses other headings or words than ours, translated into ours.
-- Where numbers have decimal commas they get a point.
-- A text may be put together from pieces: a text (=), a cell of the row (@) or the row's number (#); without one of its cells there is none.
create table staging.rows_in_other_words as
with texts as (
  select s.file, s.delivery, s.season, s.folder, s.sheet, r.row_number, s.table_name, h.heading,
    case when h.decimal_commas and regexp_full_match(trim(r.cells ->> h.delivered), '[+-]?\d*,\d+') then replace(trim(r.cells ->> h.delivered), ',', '.')
      when h.pieces is null then r.cells ->> h.delivered
      else list_reduce(
        list_transform(h.pieces, lambda p: case p[1] when '@' then nullif(trim(r.cells ->> p[2:]), '') when '#' then cast(r.row_number as varchar) else p[2:] end),
        lambda a, b: a || b)
    end as text
  from raw.rows as r
  inner join staging.sheets as s on s.content = r.sha256 and s.raw_sheet is not distinct from r.sheet
  inner join staging.headings as h on h.file = s.file and h.sheet is not distinct from s.sheet
  where not s.is_called_as_here
)
select t.file, t.delivery, t.season, t.sheet, t.row_number, t.table_name, json_group_object(t.heading, coalesce(w.ours, t.text)) as cells
from texts as t
left join reference.senders_words as w
  on w.folder = t.folder and w.table_name = t.table_name and w.heading = t.heading and w.theirs = trim(t.text)
group by t.file, t.delivery, t.season, t.sheet, t.row_number, t.table_name;
comment on table staging.rows_in_other_words is 'One row per delivered row of a sheet in its sender''s words, in ours; of a wide sheet, one per plot';
