-- What pandoc needs beyond its own writers to draw the subset of Quarto's Markdown that pages use:
-- numbered figures and tables with @fig- and @tbl- references, callouts, content for one format only,
-- page breaks, and alternative text in typst. Under Quarto it runs before Quarto's own filters and leaves them nothing
-- of this to do, so that both ways give the same page. Element names are those of pandoc's Lua filter documentation.

local is_html = FORMAT:match("html") ~= nil
local is_typst = FORMAT:match("typst") ~= nil
local is_docx = FORMAT:match("docx") ~= nil
local is_pptx = FORMAT:match("pptx") ~= nil

local written_numbers = {} -- id -> "Figure 2"
local counts = { Figure = 0, Table = 0 }
local kinds = { fig = "Figure", tbl = "Table" }

local function is_this_format(name)
  return (name == "html" and is_html)
    or ((name == "pdf" or name == "typst") and is_typst)
    or (name == "docx" and is_docx)
end

-- Conditional content ------------------------------------------------------------------------

local function is_shown(element)
  local when = element.attributes["when-format"]
  local unless = element.attributes["unless-format"]
  local holds = (not when or is_this_format(when)) and not (unless and is_this_format(unless))
  if element.classes:includes("content-visible") then return holds end
  if element.classes:includes("content-hidden") then return not holds end
  return true
end

local function keep_for_format(element)
  if not is_shown(element) then return {} end
  if element.classes:includes("content-visible") or element.classes:includes("content-hidden") then
    return element.content
  end
end

-- The title is the document's own in print: sections begin at level 1 there.
local function heading(header)
  if is_html then return nil end
  header.level = math.max(header.level - 1, 1)
  return header
end

-- Named styles for DOCX, from the reference document -------------------------------------------

local function in_style(blocks, style)
  local paragraphs = blocks:map(function(block) return block.t == "Plain" and pandoc.Para(block.content) or block end)
  return pandoc.Blocks({ pandoc.Div(paragraphs, { ["custom-style"] = style }) })
end

-- All but the last paragraph stay with the next, so that a box is not torn over two pages.
local function in_kept_style(blocks, style)
  local last = blocks:remove()
  return in_style(blocks, style .. " Kept") .. in_style(pandoc.Blocks({ last }), style)
end

-- Callouts -----------------------------------------------------------------------------------

local callout_titles = { note = "Note", tip = "Tip", important = "Important", warning = "Warning", caution = "Caution" }

local function callout_kind(div)
  for kind in pairs(callout_titles) do
    if div.classes:includes("callout-" .. kind) then return kind end
  end
end

local function callout_title(div, kind)
  local first = div.content[1]
  if first and first.t == "Header" then
    div.content:remove(1)
    return first.content
  end
  local given = div.attributes["title"]
  return given and pandoc.Inlines(pandoc.Str(given)) or pandoc.Inlines(pandoc.Str(callout_titles[kind]))
end

local function callout(div)
  local kind = callout_kind(div)
  if not kind then return nil end
  local title = callout_title(div, kind)
  if is_typst then
    local opening = pandoc.Inlines({ pandoc.RawInline("typst", '#page-callout("' .. kind .. '")[') })
    local middle = pandoc.Inlines({ pandoc.RawInline("typst", "][") })
    return pandoc.Blocks({ pandoc.Plain(opening .. title .. middle) })
      .. div.content .. pandoc.Blocks({ pandoc.RawBlock("typst", "]") })
  end
  local content = pandoc.Blocks({ pandoc.Para({ pandoc.Strong(title) }) }) .. div.content
  if is_docx then return pandoc.BlockQuote(in_kept_style(content, "Block Text")) end
  return pandoc.Div(content, pandoc.Attr("", { "callout", "callout-" .. kind }, { { "role", "note" } }))
end

-- Figures and tables -------------------------------------------------------------------------

-- Quarto's reader leaves the {#tbl-label} at the end of a table's caption; pandoc's has taken it.
local function take_label(element)
  local last = element.caption.long[#element.caption.long]
  local words = last and last.content or {}
  local label = #words > 0 and words[#words].t == "Str" and words[#words].text:match("^{#(tbl%-[%w_-]+)}$")
  if not label then return end
  element.identifier = label
  words:remove()
  if #words > 0 and words[#words].t == "Space" then words:remove() end
  last.content = words
end

local function number(element)
  take_label(element)
  if is_pptx then return element end
  local kind = kinds[element.identifier:match("^(%a+)%-") or ""]
  if not kind then return nil end
  counts[kind] = counts[kind] + 1
  local label = kind .. "\u{a0}" .. counts[kind]
  written_numbers[element.identifier] = label
  local caption = element.caption.long
  local prefix = pandoc.Inlines({ pandoc.Strong({ pandoc.Str(label .. ".") }), pandoc.Space() })
  if caption[1] then
    caption[1].content = prefix .. caption[1].content
  else
    element.caption.long = pandoc.Blocks({ pandoc.Plain(prefix) })
  end
  return element
end

local function typst_string(text)
  return '"' .. text:gsub("\\", "\\\\"):gsub('"', '\\"') .. '"'
end

-- pandoc's typst writer leaves out alternative text, without which PDF/UA-1 does not compile.
local function typst_image(image, alt)
  local size = ""
  for _, side in ipairs({ "width", "height" }) do
    if image.attributes[side] then size = size .. ", " .. side .. ": " .. image.attributes[side] end
  end
  return pandoc.RawInline("typst", "#image(" .. typst_string(image.src) .. size .. ", alt: " .. typst_string(alt) .. ")")
end

-- A figure's drawing for a narrow screen; the page shows one of the two.
local function with_narrow(image, narrow)
  local other = image:clone()
  other.src, other.attributes["width"], other.identifier = narrow, nil, ""
  image.classes:insert("on-wide")
  other.classes:insert("on-narrow")
  return pandoc.Inlines({ image, other })
end

local function image_with_alt(image)
  local alt = image.attributes["fig-alt"]
  local narrow = image.attributes["narrow"]
  image.attributes["narrow"] = nil
  if not alt then return nil end
  if is_typst then return typst_image(image, alt) end
  image.attributes["fig-alt"] = nil
  if is_pptx then image.title = alt return image end -- where the PPTX writer looks for it
  image.caption = pandoc.Inlines(pandoc.Str(alt)) -- where the DOCX writer looks for it
  image.attributes["alt"] = alt -- where the HTML writer does
  if is_html and narrow then return with_narrow(image, narrow) end
  return image
end

-- In HTML a wide table scrolls in a box of its own, which the keyboard can reach.
local function table_in_box(table)
  local name = pandoc.utils.stringify(table.caption.long)
  if name == "" then name = "Table" end
  return pandoc.Div({ table }, pandoc.Attr("", { "table-box" }, { { "role", "region" }, { "tabindex", "0" }, { "aria-label", name } }))
end

-- Looks of tables and words ------------------------------------------------------------------

local most_rows_kept = 12 -- a table of so many rows stays on one page of a DOCX

local function table_in_styles(table)
  for _, row in ipairs(table.head.rows) do
    for _, cell in ipairs(row.cells) do cell.contents = in_style(cell.contents, "Table Heading") end
  end
  for _, body in ipairs(table.bodies) do
    for position, row in ipairs(body.body) do
      local kept = position < #body.body and #body.body <= most_rows_kept
      local style = kept and "Table Text Kept" or "Table Text"
      for _, cell in ipairs(row.cells) do cell.contents = in_style(cell.contents, style) end
    end
  end
  return table
end

local function grey_in_style(span)
  if is_html then span.attributes["typst:text:fill"] = nil end
  if is_docx and span.classes:includes("grey") then span.attributes["custom-style"] = "Grey" end
  return span
end

-- Where a slide without a picture comes from, in the size of the captions of those with one.
local source_points = 10

local function source_line(span)
  if not (is_pptx and span.classes:includes("source")) then return nil end
  local words = pandoc.utils.stringify(span):gsub("&", "&amp;"):gsub("<", "&lt;"):gsub(">", "&gt;")
  return pandoc.RawInline("openxml", '<a:r><a:rPr sz="' .. 100 * source_points .. '" /><a:t>' .. words .. "</a:t></a:r>")
end

local function span_in_style(span)
  return source_line(span) or grey_in_style(span)
end

-- An id stays on one line in print; its text is left as it is, so that it can be copied.
local function id_in_box(link)
  if not is_typst or not link.target:match("#id%-") then return nil end
  return pandoc.Inlines({ pandoc.RawInline("typst", "#box["), link, pandoc.RawInline("typst", "]") })
end

local function table_in_look(table)
  if is_html then return table_in_box(table) end
  if is_docx then return table_in_styles(table) end
end

-- References ---------------------------------------------------------------------------------

local function reference(cite)
  local links = pandoc.Inlines({})
  for _, citation in ipairs(cite.citations) do
    local label = written_numbers[citation.id]
    if not label then error("@" .. citation.id .. " refers to no figure or table of this page", 0) end
    if #links > 0 then links:extend({ pandoc.Str(","), pandoc.Space() }) end
    links:insert(pandoc.Link(label, "#" .. citation.id))
  end
  return links
end

-- What the page templates cannot place -------------------------------------------------------

local function styled(inlines, style)
  local class = style:lower():gsub(" ", "-")
  return pandoc.Div({ pandoc.Para(inlines) }, { class = class, ["custom-style"] = style })
end

-- The provisional mark begins the text of a DOCX, and its footer prints the subject.
local function docx_masthead(meta, blocks)
  if pandoc.utils.stringify(meta.provisional or "") ~= "" then
    meta.subject = "Provisional"
    local mark = pandoc.Inlines({ pandoc.Strong("Provisional."), pandoc.Space() })
    blocks:insert(1, styled(mark .. pandoc.Inlines(meta.provisional), "Provisional"))
  end
end

local passes = {
  { Div = keep_for_format, Span = keep_for_format },
  { Header = heading, Div = callout, Figure = number, Table = number, traverse = "topdown" },
  { Cite = reference, Image = image_with_alt, Link = id_in_box, Span = span_in_style, Table = table_in_look },
}

-- Quarto's own filters walk a page some sixty times, which takes a minute on the longest and changes nothing that
-- these passes have drawn. So it gets the body in the words of its writer, to put into the page.
local function finished(document)
  document.blocks = pandoc.Blocks({ pandoc.RawBlock(FORMAT, pandoc.write(document, FORMAT)) })
  return document
end

-- The sections of a long page as links at its head, on a screen.
local function insert_contents(blocks)
  local items = pandoc.List({})
  for _, block in ipairs(blocks) do
    if block.t == "Header" and block.level == 2 then
      items:insert({ pandoc.Plain(pandoc.Link(block.content, "#" .. block.identifier)) })
    end
  end
  local role = { { "role", "navigation" }, { "aria-label", "Contents" } }
  blocks:insert(1, pandoc.Div({ pandoc.BulletList(items) }, pandoc.Attr("", { "contents" }, role)))
end

function Pandoc(document)
  for _, pass in ipairs(passes) do document = document:walk(pass) end
  if is_html and document.meta.contents then insert_contents(document.blocks) end
  if is_docx then docx_masthead(document.meta, document.blocks) end
  return quarto and finished(document) or document
end
