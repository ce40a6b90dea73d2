-- severity: noted
-- says: a name means one place, spelled one way; a place's own name wins over another place's second name
-- asks: analyst
-- needs: trials.said_names
-- rows of: trials.said_names
-- only where: not t.is_own or t.written <> t.place
select a.first_said.file as file, a.first_said.sheet as sheet, a.first_said.row_number as row_number, 'sites' as table_name,
  'also_called' as column_name, null as trial_id, null as site_id,
  case when b.is_own then '"' || b.written || '" as another name of ' || a.written || ', and as the name of a place in '
    else '"' || a.name || '" as another name of ' || a.written || ', and of ' || b.written || ' in ' end
    || b.first_said.file || ' row ' || b.first_said.row_number as found,
  'a name of one place' as expected,
  case when b.is_own then 'keep it in one of the two rows; until then it means the place of that name'
    else 'keep it in one of the two rows; until then weather under it belongs to neither' end as mend
from trials.said_names as a
inner join trials.said_names as b on b.name = a.name and b.place <> a.place
where not a.is_own and (b.is_own or a.place > b.place)
union all
select a.first_said.file, a.first_said.sheet, a.first_said.row_number, 'sites', 'place', null, null,
  '"' || a.written || '" here and "' || b.written || '" in ' || b.first_said.file || ' row ' || b.first_said.row_number as found,
  'a place written one way' as expected, 'write it the same in both rows; until then they are read as one place' as mend
from trials.said_names as a
inner join trials.said_names as b on b.place = a.place and b.written = a.place and b.is_own
where a.is_own and a.written <> a.place
