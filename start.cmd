@echo off
rem Windows: double-click this file. It sets goodlength up the first time, and opens it in the browser.
setlocal EnableExtensions DisableDelayedExpansion
title goodlength
set "PYTHONHOME="
set "PYTHONPATH="
pushd "%~dp0"
if not exist "scripts\set_up.py" goto :not_whole

set "ENV_FOLDER=%GOODLENGTH_ENV%"
if not defined ENV_FOLDER set "ENV_FOLDER=%CD%\.venv"
set "PY=%ENV_FOLDER%\Scripts\python.exe"
if not exist "%PY%" goto :find
"%PY%" scripts\set_up.py --ready requirements.lock >nul 2>nul
if %errorlevel% equ 0 goto :run

:find
set "FOUND="
if defined PYTHON call :try "%PYTHON%"
for %%v in (3.13 3.12 3.11 3.14) do call :try py -%%v
for %%v in (313 312 311 314) do call :try "%LocalAppData%\Programs\Python\Python%%v\python.exe"
for /d %%d in (".python\*") do call :try "%%~d\python.exe"
call :try python
call :try python3
call :try py -3
if defined FOUND goto :set_up
call uv --version >nul 2>nul
if %errorlevel% neq 0 goto :ask_winget
echo No Python was found. Fetching one for goodlength alone, about 30 MB ...
set "UV_PYTHON_INSTALL_DIR=%CD%\.python"
set "UV_PYTHON_INSTALL_BIN=0"
set "UV_PYTHON_INSTALL_REGISTRY=0"
call uv python install 3.13
for /d %%d in (".python\*") do call :try "%%~d\python.exe"
if defined FOUND goto :set_up

:ask_winget
call winget --version >nul 2>nul
if %errorlevel% neq 0 goto :no_python
echo goodlength needs Python, and this computer has none.
echo Windows can install Python 3.13 now, for you alone. It takes about a minute.
choice /C YN /M "Install it"
if %errorlevel% neq 1 goto :no_python
call winget install --exact --id Python.Python.3.13 --scope user --accept-source-agreements --accept-package-agreements
call :try "%LocalAppData%\Programs\Python\Python313\python.exe"
call :try py -3.13
if defined FOUND goto :set_up
goto :no_python

:set_up
call %FOUND% scripts\set_up.py requirements.lock
if %errorlevel% neq 0 goto :failed

:run
if not "%~1"=="" goto :command
"%PY%" -m goodlength open --with-demo
if %errorlevel% equ 0 goto :done
goto :failed

:command
"%PY%" -m goodlength %*
set "CODE=%errorlevel%"
popd
exit /b %CODE%

:done
popd
exit /b 0

:try
rem Takes the first command that runs as a Python 3.6 or later; the set-up itself looks for a better one.
if defined FOUND exit /b 0
call %* -c "import sys; sys.exit(sys.version_info < (3, 6))" >nul 2>nul
if %errorlevel% equ 0 set FOUND=%*
exit /b 0

:not_whole
echo goodlength's folder is not whole, or cannot be opened from here.
echo If this is a zip file: right-click it, choose Extract All, and double-click start.cmd in the folder
echo that this makes. If it is on another computer: copy the whole folder to your documents first.
goto :wait

:no_python
echo goodlength needs Python 3.11 to 3.14, and none was found.
echo Install Python 3.13 from python.org (Downloads, Windows), then double-click start.cmd again.
goto :wait

:failed
echo.
echo goodlength stopped. What to do stands above; then double-click start.cmd again.

:wait
pause
exit /b 1
