/** The page's markup: whole before any script runs, so that its structure is there for every reader. */
export const markup = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>tiltwright jobs</title>
<link rel="icon" href="/page/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/page/page.css">
<script type="module" src="/page/main.js"></script>
</head>
<body>
<a class="skip" href="#jobs-title">Go to the jobs</a>
<header>
  <h1>tiltwright</h1>
  <p id="health" role="status">connecting</p>
</header>
<main>
  <section class="order" aria-labelledby="order-title">
    <h2 id="order-title" tabindex="-1">New job</h2>
    <p id="order-about" class="hint" role="status"></p>
    <form id="order" novalidate>
      <div class="drop" id="drop">
        <label for="file">Part: an STL, OBJ, PLY, 3MF, GLB or STEP file</label>
        <input type="file" id="file" accept=".stl,.obj,.ply,.3mf,.glb,.step,.stp" aria-describedby="part">
        <p class="hint">or drop it here</p>
        <progress id="upload" max="1" value="0" aria-label="Upload" hidden></progress>
        <div id="part" role="status"></div>
      </div>
      <div class="pair">
        <p><label for="machine">Machine</label><select id="machine"></select> <a id="machine-page" target="_blank" rel="noopener" hidden></a></p>
        <p><label for="material">Material</label><select id="material"></select></p>
      </div>
      <details id="add">
        <summary>Add a machine or a material<span>: from a JSON file of yours</span></summary>
        <div class="fields">
          <p><label for="add-kind">Kind</label><select id="add-kind"><option value="machine">Machine</option><option value="material">Material</option></select></p>
          <p><label for="add-file">File</label><input type="file" id="add-file" accept=".json,application/json"></p>
          <p><label for="add-name">Name in the library</label><input id="add-name" maxlength="64" autocomplete="off"></p>
          <p><button type="button" id="add-send">Add to the library</button></p>
        </div>
        <div id="add-answer" role="status"></div>
      </details>
      <div class="pair">
        <p><label for="name">Name of the job</label><input id="name" maxlength="200" placeholder="as the part"></p>
        <p><label for="priority">Priority</label><input id="priority" type="number" min="-10" max="10" step="1" value="0"></p>
      </div>
      <h3>Settings</h3>
      <p class="hint">An empty field stands for the value shown in it.</p>
      <div id="settings"></div>
      <p><button type="submit" id="submit">Submit job</button></p>
      <div id="answer" role="alert"></div>
    </form>
  </section>
  <section class="jobs" aria-labelledby="jobs-title">
    <h2 id="jobs-title" tabindex="-1">Jobs</h2>
    <p><label for="state">Show</label>
      <select id="state">
        <option value="">all jobs</option>
        <option value="waiting,running">waiting and running</option>
        <option value="finished">finished, with or without errors</option>
        <option value="failed,cancelled">failed and cancelled</option>
      </select></p>
    <ul id="list"></ul>
    <p><button type="button" id="older" hidden>Older jobs</button></p>
  </section>
  <section class="job" id="job" aria-labelledby="job-title" hidden></section>
</main>
<dialog id="token-box" aria-labelledby="token-title">
  <form method="dialog" id="token-form">
    <h2 id="token-title">Token needed</h2>
    <p><label for="token">Token of this service</label>
      <input id="token" type="password" autocomplete="current-password" required></p>
    <p><label><input id="remember" type="checkbox"> Remember it on this device for 30 days</label></p>
    <p id="token-answer" role="alert"></p>
    <p><button type="submit">Go on</button></p>
  </form>
</dialog>
</body>
</html>
`;

/** A part of two regions, the upper one built along a tilted direction. */
export const icon = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><path d="M6 29V15h10v14z" fill="#0072b2"/><path d="M6 15 20 3l8 9-12 9v-6z" fill="#e69f00"/></svg>
`;
